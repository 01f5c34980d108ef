// @ts-check
/** Measure your own pieces: what to do, a few readings, the value with its interval, and into the file. */
import { html } from "htm/preact";
import { useEffect, useState } from "preact/hooks";
import { get, post, Refused } from "/lib/server.js";
import { doing, edit, project, quantity } from "/lib/state.js";

const FEWEST = 3;
const MOST = 10;

/** @param {{g: any}} p */
function One({ g }) {
  const [readings, set_readings] = useState(/** @type {string[]} */ (Array(FEWEST).fill("")));
  const [over, set_over] = useState("");
  const [found, set_found] = useState(/** @type {any} */ (null));
  const [wrong, set_wrong] = useState(/** @type {any[]} */ ([]));
  const [busy, set_busy] = useState(false);
  const [kept, set_kept] = useState(false);
  const change = (/** @type {number} */ i, /** @type {string} */ text) => {
    const next = readings.map((r, k) => (k === i ? text : r));
    // There is always room for one more.
    if (i === next.length - 1 && text !== "" && next.length < MOST) next.push("");
    set_readings(next);
    set_found(null);
    set_kept(false);
  };
  const given = readings.filter((r) => r.trim() !== "");
  const send = async (/** @type {any} */ e) => {
    e.preventDefault();
    set_busy(true);
    set_wrong([]);
    try {
      set_found(await post("feed/measure", { what: g.name, readings: given, over: g.base ? over : null }));
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      set_found(null);
      set_wrong(e.problems ?? []);
    }
    set_busy(false);
  };
  const keep = async () => {
    await edit([], [{ key: found.key, value: found.written_si }]);
    set_kept(true);
  };
  const now = quantity(g.key);
  return html`<p>${g.how}</p><p class="quiet">${g.formula}. ${g.mind}</p>
    <form onSubmit=${send}>
      <div class="readings">
        ${g.base && html`<label>${g.base[0].toUpperCase() + g.base.slice(1)} <input value=${over} placeholder=${g.base_example} required onInput=${(/** @type {any} */ e) => { set_over(e.target.value); set_found(null); }} /></label>`}
        ${readings.map((r, i) => html`<label>Reading ${i + 1} <input value=${r} placeholder=${g.example} required=${i < FEWEST} onInput=${(/** @type {any} */ e) => change(i, e.target.value)} /></label>`)}
      </div>
      <p class="quiet">Each reading: ${g.reading}, with its unit. Three to ten.</p>
      <button class="main" disabled=${busy || given.length < FEWEST}>${busy ? "working it out…" : "What do they give?"}</button>
    </form>
    <div aria-live="polite">
      ${wrong.map((p) => html`<p class="refused"><b>${p.key}: ${p.what}</b>; ${p.fix}.</p>`)}
      ${found && html`<div class="answer">${found.says.map((/** @type {string} */ s, /** @type {number} */ i) => html`<p>${i === 0 ? html`<b>${s}</b>` : s}</p>`)}
        <p class="acts"><button type="button" disabled=${kept} onClick=${keep}>${kept ? "It stands in the project now" : `Write it into the project${now ? `, in place of ${now.text}` : ""}`}</button> <code>${found.key}</code></p></div>`}
    </div>`;
}

export function Measure() {
  const [guides, set_guides] = useState(/** @type {any[]} */ ([]));
  const [name, set_name] = useState("friction");
  useEffect(() => {
    doing(() => get("feed/measure")).then((r) => r && set_guides(r.guides));
  }, []);
  const g = guides.find((x) => x.name === name);
  if (!g) return null;
  return html`<section class="measure" id="measure"><h2>Measure your own pieces</h2>
    <p class="lead">Nobody publishes the friction of foam and thin plastic balls; what ${project.value.name ?? "the project"} assumes may be far off. Three readings with what a kitchen has are worth more.</p>
    <fieldset class="pick"><legend>What</legend>${guides.map((x) => html`<label><input type="radio" name="measured" checked=${x.name === name} onChange=${() => set_name(x.name)} /> <span>${x.title}</span></label>`)}</fieldset>
    <${One} key=${name} g=${g} />
  </section>`;
}
