// @ts-check
/** Piece and target by kind, with the ranges in which such pieces lie. */
import { html } from "htm/preact";
import { useState } from "preact/hooks";
import { draft, edit, project, quantity } from "/lib/state.js";
import { say } from "/parts/quantity.js";

/** @param {{row: any, is_own: boolean}} p */
function Range({ row, is_own }) {
  const q = quantity(row.key);
  const now = q ? (draft.value[row.key] ?? q.value) : null;
  const is_out = is_own && now !== null && (now < row.low || now > row.high);
  return html`<tr><th scope="row">${row.name.replaceAll("_", " ")}</th>
    ${is_own && html`<td>${q && now !== null ? say(q, now) : "-"}${is_out && html` <b class="out">outside</b>`}</td>`}
    <td>${row.low_text} to ${row.high_text}<small>${row.source}</small></td></tr>`;
}

export function PieceKind() {
  const kinds = project.value.kinds;
  const [kind, set_kind] = useState(kinds.piece);
  const shown = kinds.pieces.find((/** @type {any} */ k) => k.kind === kind) ?? kinds.pieces[0];
  const is_own = kind === kinds.piece;
  return html`<fieldset class="chooser"><legend class="away">Kind of piece</legend>
    <div class="pick">${kinds.pieces.map((/** @type {any} */ k) => html`<label><input type="radio" name="kind-of-piece" checked=${k.kind === kind} onChange=${() => set_kind(k.kind)} /><span>${k.kind}</span></label>`)}</div>
    <p class="quiet">${shown.about}</p>
    <div class="scroll" tabindex="0" role="region" aria-label="usual ranges"><table class="ranges"><caption class="away">Usual ranges of a ${kind} piece</caption>
      <thead><tr><th scope="col">${kind}</th>${is_own && html`<th scope="col">yours</th>`}<th scope="col">usual, known from</th></tr></thead>
      <tbody>${shown.rows.map((/** @type {any} */ row) => html`<${Range} row=${row} is_own=${is_own} />`)}</tbody></table></div>
    ${!is_own && html`<p><button type="button" class="main" onClick=${() => edit([{ act: "piece", kind }])}>Take the usual ${kind} piece</button>
      <small class="quiet">What you measured stays in the file as remarks; the squeeze follows.</small></p>`}
  </fieldset>`;
}

export function TargetKind() {
  const kinds = project.value.kinds;
  return html`<fieldset class="chooser"><legend class="away">Kind of target</legend>
    <div class="pick">${kinds.targets.map((/** @type {any} */ k) => html`<label title=${k.about}><input type="radio" name="kind-of-target" checked=${k.kind === kinds.target} onChange=${() => edit([{ act: "target", kind: k.kind }])} /><span>${k.kind === "box" ? "open box" : k.kind}</span></label>`)}</div>
    <p class="quiet">${kinds.targets.find((/** @type {any} */ k) => k.kind === kinds.target)?.about}</p></fieldset>`;
}

/** What the file may say of a table and does not: to be added. @param {{table: string, words: string}} p */
export function More({ table, words }) {
  const [key, set_key] = useState("");
  const there = (/** @type {string} */ k) => quantity(k) !== undefined;
  const free = project.value.optional.filter((/** @type {any} */ o) => o.table === table && !there(o.key));
  const chosen = free.find((/** @type {any} */ o) => o.key === key) ?? free[0];
  if (!chosen) return null;
  return html`<div class="add-one"><label>${words} <select value=${chosen.key} onChange=${(/** @type {any} */ e) => set_key(e.target.value)}>${free.map((/** @type {any} */ o) => html`<option value=${o.key}>${o.name.replaceAll("_", " ")}</option>`)}</select></label>
    <button type="button" onClick=${() => edit([], [{ key: chosen.key, value: chosen.usual }])}>Add</button><small class="quiet">${chosen.about}</small></div>`;
}

