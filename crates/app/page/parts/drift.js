// @ts-check
/** Has anything changed: five throws typed here, or a robot's log. */
import { html } from "htm/preact";
import { useEffect, useState } from "preact/hooks";
import { signal } from "@preact/signals";
import { Refused, get, post } from "/lib/server.js";
import { fetch_all, shots } from "/lib/floor.js";
import { letters, too_large } from "/lib/file.js";
import { log_changes } from "/lib/state.js";
import { Log } from "/parts/log.js";
import { Picture, Table } from "/parts/picture.js";

const PLACE = "arcwright-check-after";
const ENOUGH = 5;

/** Number of the last shot before the check; null while none is under way. */
const after = signal(/** @type {number | null} */ (JSON.parse(sessionStorage.getItem(PLACE) ?? "null")));

/** @param {number | null} n */
function set_after(n) {
  after.value = n;
  if (n === null) sessionStorage.removeItem(PLACE);
  else sessionStorage.setItem(PLACE, String(n));
}

/** @param {unknown} e */
function words(e) {
  if (!(e instanceof Refused)) throw e;
  return e.problems[0] ? `${e.problems[0].what}. ${e.problems[0].fix}` : "The program does not answer.";
}

export function Drift() {
  useEffect(() => {
    fetch_all();
  }, [log_changes.value]);
  return html`<section class="drift" aria-label="Has anything changed?"><h2>Has anything changed?</h2>
    <p>Since it last worked: after a crash, a repair, a new tread, a journey. Five throws tell, or the robot's own log.</p>
    <div class="pair"><${Throws} /><${OfLogs} /></div></section>`;
}

function Throws() {
  const [answer, set_answer] = useState(/** @type {any} */ (null));
  const [why, set_why] = useState("");
  const list = shots.value?.says ?? [];
  const own = after.value === null ? [] : list.filter((/** @type {any} */ l) => l.shot > /** @type {number} */ (after.value));
  const ids = own.map((/** @type {any} */ l) => l.shot).join();
  useEffect(() => {
    set_answer(null);
    set_why("");
    if (!own.length) return;
    let gone = false;
    get(`floor/drift?from_shot=${own[0].shot}`).then((a) => !gone && set_answer(a), (e) => !gone && set_why(words(e)));
    return () => {
      gone = true;
    };
  }, [ids]);
  const begin = () => set_after(Math.max(0, ...list.map((/** @type {any} */ l) => l.shot)));
  if (after.value === null) {
    return html`<div><h3>Five throws</h3><p>From spots that worked, at their usual speeds. They are logged as any shot, and held against those before.</p>
      <button type="button" class="main" disabled=${!shots.value} onClick=${begin}>Start the check</button></div>`;
  }
  return html`<div><h3>Five throws</h3>
    <p role="status"><b>${own.length} of ${ENOUGH}</b> logged. ${own.length === 0 ? "Throw, then tap where it went." : own.length < ENOUGH ? "Go on; what they tell so far stands below." : "That is enough."}</p>
    <${Log} as_before=${true} />
    ${own.length > 0 && html`<ol class="shots">${own.map((/** @type {any} */ l) => html`<li><b>${l.place}</b> ${l.seen}</li>`)}</ol>`}
    ${why && html`<p class="refused">${why}</p>`}
    ${answer && html`<${Answer} a=${answer} />`}
    <p class="acts"><button type="button" onClick=${() => set_after(null)}>End the check</button> <span class="quiet">the shots stay in the log</span></p></div>`;
}

/** @param {{a: any}} p */
function Answer({ a }) {
  return html`<div class=${`answer ${a.verdict === "changed" ? "changed" : ""}`} aria-live="polite">${a.says.map((/** @type {string} */ s, /** @type {number} */ i) => html`<p>${i === 0 ? html`<b>${s}</b>` : s}</p>`)}
    ${a.basis?.length > 0 && html`<details><summary>What this rests on</summary>${a.basis.map((/** @type {string} */ s) => html`<p class="quiet">${s}</p>`)}</details>`}
    ${a.rows?.length > 0 && html`<${Table} head=${a.head} rows=${a.rows} caption="What the logs have in common" />`}
    ${a.picture && html`<${Picture} name="check" svg=${a.picture} />`}</div>`;
}

function OfLogs() {
  const [now, set_now] = useState(/** @type {any} */ (null));
  const [then, set_then] = useState(/** @type {any} */ (null));
  const [answer, set_answer] = useState(/** @type {any} */ (null));
  const [why, set_why] = useState("");
  const choose = (/** @type {(f: any) => void} */ set) => async (/** @type {any} */ e) => {
    const file = e.target.files?.[0];
    set_answer(null);
    set_why(file ? too_large(file) : "");
    set(file && !too_large(file) ? { name: file.name, bytes: await letters(file) } : null);
  };
  const ask = async (/** @type {any} */ e) => {
    e.preventDefault();
    try {
      set_why("");
      set_answer(await post("floor/drift", { now, then }));
    } catch (error) {
      set_answer(null);
      set_why(words(error));
    }
  };
  return html`<div><h3>A robot's log</h3><p>Of a few throws with a spin-up from rest. Nothing of it is kept.</p>
    <form class="fields acts" onSubmit=${ask}>
      <label>The log of now (CSV) <input type="file" accept=".csv,.tsv,.txt,text/csv,text/plain" required onChange=${choose(set_now)} /></label>
      <label>An earlier one; without it the wheel speeds of the logged shots <input type="file" accept=".csv,.tsv,.txt,text/csv,text/plain" onChange=${choose(set_then)} /></label>
      <button class="main" disabled=${!now}>Compare</button></form>
    ${why && html`<p class="refused" role="alert">${why}</p>`}
    ${answer && html`<${Answer} a=${answer} />`}</div>`;
}
