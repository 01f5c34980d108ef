// @ts-check
/** Book: what is carried away, and the project file as text. */
import { html } from "htm/preact";
import { useEffect, useState } from "preact/hooks";
import { project, put_text, want } from "/lib/state.js";
import { Changes } from "/parts/history.js";
import { Notebook, Notes, useAbout } from "/parts/notebook.js";
import { CardFile, HandOver, Templates } from "/parts/templates.js";

export function Book() {
  useEffect(() => want([], false), []);
  const { about, why, again } = useAbout();
  return html`${why && html`<p class="refused" role="alert">${why}</p>`}
    ${about && html`<div class="shelf"><${Notebook} about=${about} /><${Notes} about=${about} again=${again} /></div>`}
    <${Changes} />
    <div class="shelf"><${Templates} /><div><${HandOver} /><${CardFile} /></div></div>
    <${ProjectFile} />`;
}

function ProjectFile() {
  const p = project.value;
  const [text, set_text] = useState(p.text);
  const [base, set_base] = useState(p.revision);
  const is_changed = text !== p.text;
  useEffect(() => {
    if (p.revision !== base && !is_changed) {
      set_text(p.text);
      set_base(p.revision);
    }
  }, [p.revision]);
  const save = async () => {
    if (await put_text(text)) set_base(project.value.revision);
  };
  return html`<section><h2>The project file</h2>
    <p>${p.from === "demo" ? "The demo's text. Changes stay in this program until you keep it as a project." : html`<code>${p.at}</code>: remarks and order stay as you write them.`}</p>
    ${p.notes.map((/** @type {any} */ n) => html`<details><summary>Assumed, because the file does not say</summary><p>${n.what}</p><p>${n.fix}</p></details>`)}
    <label class="away" for="file">The project file as text</label>
    <textarea id="file" spellcheck="false" rows="32" value=${text} onInput=${(/** @type {any} */ e) => set_text(e.target.value)}></textarea>
    <p class="acts"><button type="button" class="main" disabled=${!is_changed} onClick=${save}>Save the text</button> <button type="button" disabled=${!is_changed} onClick=${() => set_text(project.value.text)}>Put back</button></p>
  </section>`;
}
