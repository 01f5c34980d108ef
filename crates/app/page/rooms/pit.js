// @ts-check
/** Pit: one page to take along, and whether anything has changed. */
import { html } from "htm/preact";
import { useEffect, useState } from "preact/hooks";
import { signal } from "@preact/signals";
import { changed_keys, log_changes, project, want } from "/lib/state.js";
import { Refused, get } from "/lib/server.js";
import { fetch_rehearsal, of_log, rehearsing } from "/lib/rehearsal.js";
import { Drift } from "/parts/drift.js";
import { Table } from "/parts/picture.js";
import { Rehearsing } from "/parts/rehearsal.js";

const card = signal(/** @type {any} */ (null));
const why = signal("");

async function fetch_card() {
  try {
    await fetch_rehearsal();
    card.value = await get(of_log("card"));
    why.value = "";
  } catch (e) {
    if (!(e instanceof Refused)) throw e;
    card.value = null;
    why.value = e.problems[0] ? `${e.problems[0].what}. ${e.problems[0].fix}` : "The program does not answer.";
  }
}

/** @param {{before: string[]}} p */
function Ticks({ before }) {
  const [done, set_done] = useState(/** @type {boolean[]} */ ([]));
  const tick = (/** @type {number} */ i) => set_done(before.map((_, k) => (k === i ? !done[k] : (done[k] ?? false))));
  const left = before.filter((_, i) => !done[i]).length;
  return html`<section><h3>Before the match</h3><ul class="ticks">${before.map((b, i) => html`<li><label><input type="checkbox" checked=${done[i] ?? false} onChange=${() => tick(i)} /> <span>${b}</span></label></li>`)}</ul>
    <p class="quiet screen" role="status">${left === 0 ? html`All done. <button type="button" onClick=${() => set_done([])}>Again</button>` : `${left} to do`}</p></section>`;
}

export function Pit() {
  useEffect(() => want([], false), []);
  useEffect(() => {
    fetch_card();
  }, [log_changes.value, project.value.at, project.value.revision, rehearsing.value]);
  const c = card.value;
  if (!c) return html`<p>${why.value || "working…"}</p>`;
  return html`<${Rehearsing} /><div class="card">
    <button type="button" class="print" onClick=${() => print()}>Print this page</button>
    <h2>${c.title}</h2>
    <p>${c.basis}</p>
    ${changed_keys.value.length > 0 && html`<p class="caution screen">The card is of the file: what is not kept is not on it.</p>`}
    <${Table} head=${c.head} rows=${c.rows} caption="Setpoints" />
    <div class="pair">
      <section><h3>Check with a ruler, battery off</h3><dl>
        ${c.ruler.map((/** @type {string[]} */ [what, says]) => html`<dt>${what}</dt><dd>${says}</dd>`)}</dl>
        <p class="quiet">Marks: ${c.marks}.</p></section>
      <section><h3>Wheel and battery</h3><dl>
        ${c.battery.map((/** @type {string[]} */ [what, says]) => html`<dt>${what}</dt><dd>${says}</dd>`)}</dl></section>
      <${Ticks} before=${c.before} />
      <section class="paper"><h3>Has anything changed?</h3><p>${c.five}</p>
        <table class="blank"><thead><tr>${[1, 2, 3, 4, 5].map((n) => html`<th>${n}</th>`)}</tr></thead><tbody><tr>${[1, 2, 3, 4, 5].map(() => html`<td></td>`)}</tr></tbody></table></section>
    </div>
    <p class="caution">${c.caution}</p>
  </div>
  ${!rehearsing.value && project.value.from !== "demo" && html`<div class="screen"><${Drift} /></div>`}
  ${!rehearsing.value && project.value.from === "demo" && html`<p class="quiet screen">Five throws, or a robot's log, tell whether anything has changed: keep the demo as a project of your own first.</p>`}`;
}
