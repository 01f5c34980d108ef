// @ts-check
/** A quantity to move: a slider and a field, in the project's units. */
import { html } from "htm/preact";
import { useState } from "preact/hooks";
import { change, draft, edit, project, put_back } from "/lib/state.js";
import { in_unit as plain } from "/lib/say.js";

/** @param {any} q @param {number} value SI */
export const say = (q, value) => plain(value, q);

/** @param {any} q */
const label = (q) => `${q.table.replace(/\[\]/g, "").replaceAll(".", " ")}${q.index === null ? "" : ` ${q.index + 1}`} ${q.name.replaceAll("_", " ")}`;

/** @param {{q: any, short?: boolean, name?: string}} p */
export function Quantity({ q, short = false, name: own }) {
  const now = draft.value[q.key] ?? q.value;
  // What is being typed stays while results come in.
  const [typing, set_typing] = useState(/** @type {string | null} */ (null));
  const is_changed = q.key in draft.value;
  const inner = q.table.split(".").slice(1).join(" ").replace("[]", ` ${(q.index ?? 0) + 1}`);
  const name = own ?? (short ? `${inner} ${q.name}`.trim().replaceAll("_", " ") : label(q));
  const may_go = project.value.optional.some((/** @type {any} */ o) => o.key === q.key && o.is_set);
  const id = `q-${q.key.replace(/[^a-z0-9]/gi, "-")}`;
  const choices = q.choices;
  const at = choices.length ? choices.reduce((/** @type {number} */ best, /** @type {number} */ c, /** @type {number} */ i) => (Math.abs(c - now) < Math.abs(choices[best] - now) ? i : best), 0) : 0;
  const set = (/** @type {string} */ text) => {
    const x = Number(text);
    if (!Number.isFinite(x)) return;
    change(q.key, choices.length ? choices[x] : Math.abs(x - q.value) < 1e-12 ? q.value : x);
  };
  const typed = (/** @type {any} */ e) => {
    set_typing(null);
    const x = Number.parseFloat(e.target.value.replace(",", "."));
    if (Number.isFinite(x)) change(q.key, (x - q.shift) * q.si_ratio);
    else e.target.value = say(q, now);
  };
  return html`<div class=${`quantity ${is_changed ? "changed" : ""}`}>
    <label for=${id} title=${q.about}>${name}</label>
    <input class="number" aria-label=${`${name}, ${q.unit || "a number"}`} value=${typing ?? say(q, now)} onInput=${(/** @type {any} */ e) => set_typing(e.target.value)} onChange=${typed} onBlur=${() => set_typing(null)} />
    <input id=${id} type="range" aria-valuetext=${say(q, now)}
      min=${choices.length ? 0 : q.low} max=${choices.length ? choices.length - 1 : q.high}
      step=${choices.length ? 1 : q.step || (q.high - q.low) / 200 || "any"}
      value=${choices.length ? at : now} onInput=${(/** @type {any} */ e) => set(e.target.value)} />
    ${is_changed && html`<button type="button" class="back" onClick=${() => put_back(q.key)} aria-label=${`put ${name} back to ${q.text}`} title="put back">was ${q.text}</button>`}
    ${may_go && html`<button type="button" class="back" aria-label=${`take out ${name}`} title="it stays in the file as a remark" onClick=${() => edit([{ act: "unset", key: q.key }])}>take out</button>`}
  </div>`;
}

/** @param {{title: string, keys: any[], open?: boolean, children?: any}} p */
export function Group({ title, keys, open = false, children }) {
  const moved = keys.filter((q) => q.key in draft.value).length;
  if (!keys.length && !children) return null;
  return html`<details class="group" open=${open}><summary>${title}${moved > 0 ? html` <span class="count">${moved} changed</span>` : ""}</summary>
    ${children}${keys.map((q) => html`<${Quantity} key=${q.key} q=${q} short=${true} />`)}</details>`;
}
