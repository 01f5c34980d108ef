// @ts-check
/** What goes to the saw, to the programmers and into the pit: templates, hand-over, card. */
import { html } from "htm/preact";
import { useEffect, useState } from "preact/hooks";
import { get, post } from "/lib/server.js";
import { blob_of, save, text_of } from "/lib/save.js";
import { project } from "/lib/state.js";
import { useAsking, words } from "/parts/notebook.js";
import { role } from "/parts/share.js";

/** An answer of the program, fetched anew when the project changes. @param {string} path */
function useAnswer(path) {
  const [answer, set_answer] = useState(/** @type {any} */ (null));
  const [why, set_why] = useState("");
  useEffect(() => {
    let gone = false;
    get(path).then((a) => !gone && (set_answer(a), set_why("")), (e) => !gone && (set_answer(null), set_why(words(e))));
    return () => {
      gone = true;
    };
  }, [path, project.value.revision]);
  return { answer, why };
}

export function Templates() {
  const [paper, set_paper] = useState("a4");
  const { answer, why } = useAnswer(`draw?paper=${paper}`);
  const give = (/** @type {any} */ f) => save(f.name, blob_of(f.name, f.base64));
  return html`<section aria-label="Templates"><h2>Cut: templates at full size</h2>
    <p>Print the PDF at 100 % and measure its ruler before cutting. DXF and SVG are in millimetres.</p>
    <p class="acts"><label>Paper <select value=${paper} onChange=${(/** @type {any} */ e) => set_paper(e.target.value)}><option value="a4">A4</option><option value="letter">Letter</option></select></label></p>
    ${!answer && !why && html`<p class="quiet" role="status">working it out…</p>`}
    ${why && html`<p class="refused">${why}</p>`}
    ${answer && html`<div class="sheets">${answer.parts.map((/** @type {any} */ p) => {
      const svg = p.files.find((/** @type {any} */ f) => f.name.endsWith(".svg"));
      return html`<figure class="picture"><img src=${`data:image/svg+xml;base64,${svg?.base64}`} alt=${`${p.part}: ${p.title}`} loading="lazy" />
        <figcaption><b>${p.part}</b> ${p.title}<span class="acts">${p.files.map((/** @type {any} */ f) => html`<button type="button" aria-label=${f.name} onClick=${() => give(f)}>${f.name.split(".").at(-1).toUpperCase()}</button>`)}</span></figcaption></figure>`;
    })}</div>${answer.left_out.map((/** @type {string} */ w) => html`<p class="quiet">Left out: ${w}.</p>`)}${answer.cautions.map((/** @type {string} */ c) => html`<p class="caution">${c}</p>`)}`}
  </section>`;
}

export function HandOver() {
  const { answer, why } = useAnswer("hand");
  return html`<section aria-label="Hand-over"><h2>Hand over: setpoints for the robot's code</h2>
    <p>Table, rule, gains and tolerance, each file with the state of the project in its head. <code>arcwright hand --verify FILE</code> says whether the one on the robot still matches.</p>
    ${!answer && !why && html`<p class="quiet" role="status">working it out…</p>`}
    ${why && html`<p class="refused">${why}</p>`}
    ${answer?.warnings.map((/** @type {string} */ w) => html`<p class="caution">${w}</p>`)}
    ${answer?.files.map((/** @type {any} */ f) => html`<details><summary>${f.name}</summary><p><button type="button" onClick=${() => save(f.name, text_of(f.name, f.text))}>Save ${f.name}</button></p><pre tabindex="0">${f.text}</pre></details>`)}
  </section>`;
}

export function CardFile() {
  const { busy, why, ask } = useAsking();
  return html`<section aria-label="Pit card"><h2>Pit card</h2>
    <p>What to set right now, on one page: <a href="/pit">to the card</a>.</p>
    <p class="acts"><button type="button" disabled=${busy !== ""} onClick=${() => ask("html", async () => save("card.html", text_of("card.html", (await get("card")).html)))}>Save the card as HTML</button>
      ${role.value === "owner" && html`<button type="button" disabled=${busy !== ""} onClick=${() => ask("pdf", async () => { const made = await post("book/pdf", { card: true, sections: [] }); save(made.name, blob_of(made.name, made.base64)); })}>Save the card as PDF</button>`}</p>
    ${why && html`<p class="refused" role="alert">${why}</p>`}</section>`;
}
