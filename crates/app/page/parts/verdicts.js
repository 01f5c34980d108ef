// @ts-check
/** The verdicts: a strip that is always in sight, and the list. */
import { html } from "htm/preact";
import { Sign } from "/parts/sign.js";
import { parts } from "/lib/state.js";

const ORDER = ["fails", "unknown", "tight", "holds"];

export function Strip() {
  const check = parts.value.check;
  if (!check) return html`<a class="strip" href="/brief#verdicts">working…</a>`;
  const counts = ORDER.map((s) => /** @type {[string, number]} */ ([s, check.verdicts.filter((/** @type {any} */ v) => v.status === s).length]));
  return html`<a class="strip" href="/brief#verdicts"><span class="away">Verdicts: </span>
    ${counts.filter(([s, n]) => n > 0 || s === "holds").map(([s, n]) => html`<span><${Sign} status=${s} words=${false} /><b>${n}</b> <span class="roomy">${s}</span></span>`)}
  </a>`;
}

export function Verdicts() {
  const check = parts.value.check;
  if (!check) return null;
  const sorted = [...check.verdicts].sort((a, b) => ORDER.indexOf(a.status) - ORDER.indexOf(b.status));
  const open = sorted.filter((v) => v.status !== "holds");
  const fine = sorted.filter((v) => v.status === "holds");
  const row = (/** @type {any} */ v) => html`<li class=${v.status}>
    <${Sign} status=${v.status} />
    <b>${v.check}${v.subject ? `: ${v.subject}` : ""}</b>
    <span>${v.why}</span>
    ${v.mend && html`<span class="mend"><b>To mend it:</b> ${v.mend}</span>`}
  </li>`;
  return html`<section id="verdicts" class="verdicts">
    <h2>Verdicts</h2>
    ${open.length > 0 ? html`<ul>${open.map(row)}</ul>` : html`<p>Everything the brief asks holds.</p>`}
    <details><summary>${fine.length} hold</summary><ul>${fine.map(row)}</ul></details>
  </section>`;
}
