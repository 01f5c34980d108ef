// @ts-check
/** A shot in two taps: where it went, and the big button. */
import { html } from "htm/preact";
import { useState } from "preact/hooks";
import { choose_spot, doing, project, spot } from "/lib/state.js";
import { elsewhere, flush, last, log, own, send_here, take_back, undo_own, waiting } from "/lib/queue.js";
import { next } from "/lib/floor.js";
import { sentence } from "/lib/say.js";
import { Opening, words_of } from "/parts/opening.js";
import { told } from "/parts/told.js";

const WORDS = ["in", "rim", "short", "long", "left", "right", "under", "none"];
const ABOUT = { none: "never got there", under: "passed below", rim: "touched it" };

/** Speed that a spot is thrown with: the last one, or what is advised now. @param {string} name @param {boolean} as_before */
function speed_of(name, as_before) {
  const last = next.value?.spots.find((/** @type {any} */ s) => s.spot === name)?.setpoint_radps;
  if (as_before && last) return last;
  const shot = next.value?.shot?.spot === name ? next.value.shot.setpoint_radps : last;
  const moved = next.value?.moves.find((/** @type {any} */ m) => m.spot === name && m.knob === "speed");
  return moved?.to ?? shot ?? null;
}

/** The spot to throw from. */
export const Spots = () => html`<fieldset class="pick"><legend>Thrown from</legend>${project.value.spots.map((/** @type {any} */ s) => html`<label><input type="radio" name="spot" checked=${s.name === spot.value} onChange=${() => choose_spot(s.name)} /> <span>${s.name}</span></label>`)}</fieldset>`;

/** @param {{as_before?: boolean}} p whether the speeds stay as they were */
export function Log({ as_before = false }) {
  const [outcome, set_outcome] = useState("");
  const [at, set_at] = useState(/** @type {[number, number] | null} */ (null));
  const [more, set_more] = useState("");
  const [speeds, set_speeds] = useState(/** @type {Record<string, string>} */ ({}));
  const name = spot.value;
  const radps = speed_of(name, as_before);
  const rpm = speeds[name] ?? (radps ? `${Math.round((radps * 30) / Math.PI)}` : "");
  const what = at ? words_of(at) : outcome;
  const line = [name, rpm, what, more.trim()].filter(Boolean).join(" ");
  const said = what !== "" || more.trim() !== "";
  const send = async () => {
    await log(line);
    set_at(null);
    set_outcome("");
    set_more("");
  };
  return html`<section class="log" aria-label="Log a shot">
    <${Spots} />
    <label class="speed">Wheel <input inputmode="numeric" value=${rpm} placeholder="design" onInput=${(/** @type {any} */ e) => set_speeds({ ...speeds, [name]: e.target.value.trim() })} /> rpm</label>
    <${Opening} at=${at} set=${(/** @type {any} */ a) => { set_at(a); set_outcome(""); }} />
    <div class="outcomes" role="group" aria-label="Or what became of it">${WORDS.map((w) => html`<button type="button" aria-pressed=${outcome === w} title=${/** @type {any} */ (ABOUT)[w] ?? w} onClick=${() => { set_outcome(w); set_at(null); }}>${w}${/** @type {any} */ (ABOUT)[w] && html`<small aria-hidden="true">${/** @type {any} */ (ABOUT)[w]}</small>`}</button>`)}</div>
    <label class="more">More, in words <input value=${more} placeholder="after 3200, fall 1.24s, piece 3" onInput=${(/** @type {any} */ e) => set_more(e.target.value)} /></label>
    <button type="button" class="main log-it" disabled=${!said} onClick=${send}>${said ? html`Log: <b>${line}</b>` : "Tap where it went"}</button>
    <${Said} />
  </section>`;
}

function Said() {
  const l = last.value;
  const others = waiting.value.filter((s) => elsewhere.value.includes(s.key));
  const count = waiting.value.length - others.length;
  return html`<div class="said" aria-live="polite">
    ${others.length > 0 && html`<p class="waits"><b>${others.length}</b> thrown with another project, waiting for it: <code>${[...new Set(others.map((s) => s.at))].join(", ")}</code>. <button type="button" onClick=${() => send_here()}>Log here after all</button></p>`}
    ${count > 0 && html`<p class="waits"><b>${count}</b> waiting for the connection <button type="button" onClick=${() => flush()}>Send now</button> <button type="button" onClick=${take_back}>Take the last one back</button></p>`}
    ${l?.says && html`<p>${l.says} ${own.value.length > 0 && html`<button type="button" title="takes back the last shot that was logged from here" onClick=${() => doing(undo_own)}>Undo shot ${own.value.at(-1)}</button>`}</p>`}
    ${l?.refused && html`<div class="refused">${l.refused.problems.map((p) => html`<p><b>${told(sentence(p.what))}.</b> ${told(sentence(p.fix))}.</p>`)}<p>Not logged: <code>${l.words}</code> <button type="button" onClick=${() => log(l.words, true)}>Log it anyway</button></p></div>`}
  </div>`;
}
