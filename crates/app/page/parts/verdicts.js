// @ts-check
/** The verdicts: a strip that is always in sight, and the list. */
import { html } from "htm/preact";
import { Sign } from "/parts/sign.js";
import { change, parts } from "/lib/state.js";
import { told } from "/parts/told.js";

const ORDER = ["fails", "unknown", "tight", "holds"];

/** Which handle, moved alone, would mend a verdict that fails. @param {{v: any}} p */
export function Helps({ v }) {
  if (v.status !== "fails") return null;
  const all = parts.value.helps;
  if (all === undefined) return html`<span class="helps quiet">looking which handle would help…</span>`;
  const found = all.find((/** @type {any} */ h) => h.check === v.check && h.subject === v.subject)?.helps ?? [];
  if (!found.length) return html`<span class="helps quiet">No single handle mends it within its travel.${v.mend ? html` ${told(v.mend)}` : ""}</span>`;
  return html`<span class="helps">One handle alone would do: ${found.map((/** @type {any} */ h) => html`<button type="button" title=${h.fails === 0 ? "then nothing fails" : `then ${h.fails} still fail`} onClick=${() => change(h.key, h.to)}>${h.key.replace(/[._]|\[(\d+)\]/g, " ").trim()} ${h.from_text} → ${h.to_text}</button> `)}</span>`;
}

export function Strip() {
  const check = parts.value.check;
  if (!check) return html`<a class="strip" href="/brief#verdicts">working…</a>`;
  const counts = ORDER.map((s) => /** @type {[string, number]} */ ([s, check.verdicts.filter((/** @type {any} */ v) => v.status === s).length]));
  return html`<a class="strip" href="/brief#verdicts"><span class="away">Verdicts: </span>
    ${counts.filter(([s, n]) => n > 0 || s === "holds").map(([s, n]) => html`<span><${Sign} status=${s} words=${false} /><b>${n}</b> <span class="roomy">${s}</span></span>`)}
  </a>`;
}

/** One verdict of a list. @param {any} v */
export const verdict_row = (v) => html`<li class=${v.status}>
    <${Sign} status=${v.status} />
    <b>${v.check}${v.subject ? `: ${v.subject}` : ""}</b>
    <span>${told(v.why)}</span>
    ${v.mend && html`<span class="mend"><b>To mend it:</b> ${told(v.mend)}</span>`}
    ${v.status === "fails" && html`<span class="mend"><${Helps} v=${v} /></span>`}
  </li>`;

/** What does not hold first. @param {any[]} verdicts */
export const worst_first = (verdicts) => [...verdicts].sort((a, b) => ORDER.indexOf(a.status) - ORDER.indexOf(b.status));

export function Verdicts() {
  const check = parts.value.check;
  if (!check) return null;
  const sorted = worst_first(check.verdicts);
  const open = sorted.filter((v) => v.status !== "holds");
  const fine = sorted.filter((v) => v.status === "holds");
  const row = verdict_row;
  return html`<section id="verdicts" class="verdicts">
    <h2>Verdicts</h2>
    ${open.length > 0 ? html`<ul>${open.map(row)}</ul>` : html`<p>Everything the brief asks holds.</p>`}
    <details><summary>${fine.length} hold</summary><ul>${fine.map(row)}</ul></details>
  </section>`;
}
