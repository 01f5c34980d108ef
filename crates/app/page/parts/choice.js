// @ts-check
/** A word of the file to choose, or a text to write; it goes into the file at once and can be undone. */
import { html } from "htm/preact";
import { edit, project } from "/lib/state.js";

/** Words of a table of the file. @param {string} table @param {number | null} [index] */
export const choices = (table, index = null) => project.value.choices.filter((/** @type {any} */ c) => c.table === table && c.index === index);

/** What the first of a list is called in the file. @param {string} table @param {number} index */
export const named = (table, index) => choices(table, index).find((/** @type {any} */ c) => c.name === "name")?.word ?? `${index + 1}`;

/** @param {{c: any, name?: string}} p */
export function Choice({ c, name }) {
  const set = (/** @type {any} */ e) => edit([{ act: "word", key: c.key, word: e.target.value }]);
  const shown = name ?? c.name.replaceAll("_", " ");
  return html`<label class="choice" title=${c.about}><span>${shown}</span>${c.words.length > 0
    ? html`<select value=${c.word ?? ""} onChange=${set}>${c.word === null && html`<option value="" disabled>not written</option>`}${c.words.map((/** @type {string} */ w) => html`<option value=${w} selected=${w === c.word}>${w.replaceAll("-", " ")}</option>`)}</select>`
    : html`<input value=${c.word ?? ""} onChange=${set} />`}</label>`;
}
