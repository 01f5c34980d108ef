// @ts-check
/** What changed and why: every kept state, a reason for the present one, any two side by side. */
import { html } from "htm/preact";
import { useEffect, useState } from "preact/hooks";
import { get, post } from "/lib/server.js";
import { log_changes, project } from "/lib/state.js";
import { useAsking, words } from "/parts/notebook.js";
import { Table } from "/parts/picture.js";
import { role } from "/parts/share.js";

/** States that are listed at first, and in further steps. */
const STEP_COUNT = 20;

/** Day and time where the page is. @param {string} utc */
const when = (utc) => new Date(utc).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });

export function Changes() {
  const [told, set_told] = useState(/** @type {any} */ (null));
  const [last, set_last] = useState(STEP_COUNT);
  const [trouble, set_trouble] = useState("");
  const is_demo = project.value.from === "demo";
  const again = () => get(`history?last=${last}`).then((t) => (set_told(t), set_trouble("")), (e) => set_trouble(words(e)));
  useEffect(() => {
    if (!is_demo) again();
  }, [log_changes.value, project.value.revision, project.value.at, last]);
  return html`<section aria-label="What changed and why"><h2>What changed and why</h2>
    ${is_demo ? html`<p class="quiet">A demo has no history: keep it as a project first.</p>` : html`
      <p>What is changed on this page is kept with the state before. Say why while you still know it: the notebook tells it to those who come after you.</p>
      ${trouble && html`<p class="refused" role="alert">${trouble}</p>`}
      <${Reason} told=${told} again=${again} />
      ${told && html`<${Events} told=${told} />
        ${told.earlier_states > 0 && html`<p><button type="button" onClick=${() => set_last(last + STEP_COUNT)}>Show earlier states too (${told.earlier_states})</button></p>`}
        ${told.damaged_lines.length > 0 && html`<p class="refused">Lines of history.jsonl that cannot be read and are left out: ${told.damaged_lines.join(", ")}.</p>`}
        ${told.states.length > 0 && html`<${Compare} told=${told} />`}`}`}
  </section>`;
}

/** @param {{told: any, again: () => void}} p */
function Reason({ told, again }) {
  const [kept, set_kept] = useState("");
  const { busy, why, ask } = useAsking();
  if (role.value !== "owner" && role.value !== "edit") return html`<p class="quiet">This device may look on. To give a reason, ask the owner for another code.</p>`;
  const give = (/** @type {any} */ e) => {
    e.preventDefault();
    const form = e.target;
    ask("give", async () => {
      const done = await post("history", { reason: form.elements.reason.value });
      set_kept(done.kept.new ? `kept as state ${done.kept.state}` : `now the reason of state ${done.kept.state}`);
      form.reset();
      again();
    });
  };
  return html`<form class="note" onSubmit=${give}>
    <label>Why is the project as it is now? <input name="reason" required maxlength="300" placeholder="wider wheel: the narrow one bit into the holes" /></label>
    <p class="acts"><button class="main" disabled=${busy !== ""}>Keep the reason</button> <span class="quiet" role="status">${kept || (told?.present.words ?? "")}</span></p>
    ${why && html`<p class="refused" role="alert">${why}</p>`}
  </form>`;
}

/** @param {{told: any}} p */
function Events({ told }) {
  const states = told.states.map((/** @type {any} */ s) => ({ utc: s.utc, what: html`<b>State ${s.state}</b>, ${when(s.utc)}: ${s.reason || "no reason given"}`, lines: s.change ? [s.change.words.values, ...s.change.words.outcomes] : [] }));
  const since = told.earlier_states > 0 ? told.states[0]?.utc ?? "" : "";
  const fits = told.fits.filter((/** @type {any} */ f) => f.utc >= since).map((/** @type {any} */ f) => ({ utc: f.utc, what: f.words[0], lines: [f.words[1]] }));
  const all = [...states, ...fits].sort((a, b) => (a.utc < b.utc ? -1 : a.utc > b.utc ? 1 : 0)).reverse();
  if (all.length === 0) return html`<p class="quiet">Nothing was kept yet.</p>`;
  return html`<ol class="notes">${all.map((e) => html`<li>${e.what} ${e.lines.map((/** @type {string} */ l) => html`<p class="quiet">${l}</p>`)}</li>`)}</ol>`;
}

/** @param {{told: any}} p */
function Compare({ told }) {
  const count = told.earlier_states + told.states.length;
  const [from, set_from] = useState("1");
  const [to, set_to] = useState("");
  const [found, set_found] = useState(/** @type {any} */ (null));
  const { busy, why, ask } = useAsking();
  const reasons = Object.fromEntries(told.states.map((/** @type {any} */ s) => [s.state, s.reason]));
  const options = Array.from({ length: count }, (_, i) => html`<option value=${String(i + 1)}>state ${i + 1}${reasons[i + 1] ? `: ${reasons[i + 1].slice(0, 40)}` : ""}</option>`);
  const compare = () => ask("compare", async () => {
    set_found(null);
    set_found(await get(`history/compare?from=${from}${to ? `&to=${to}` : ""}`));
  });
  const then = (/** @type {any} */ f) => `state ${f.from}`;
  const now = (/** @type {any} */ f) => (f.to === null ? "as it is now" : `state ${f.to}`);
  return html`<h3>Any two states side by side</h3>
    <div class="compare"><label class="pick">Compare <select aria-label="Compare this state" value=${from} onChange=${(/** @type {any} */ e) => set_from(e.target.value)}>${options}</select></label>
      <label class="pick">with <select aria-label="with this state" value=${to} onChange=${(/** @type {any} */ e) => set_to(e.target.value)}><option value="">as it is now</option>${options}</select></label>
      <button type="button" disabled=${busy !== ""} onClick=${compare}>Compare</button></div>
    ${why && html`<p class="refused" role="alert">${why}</p>`}
    ${found && html`<div class="texts" role="status">
      ${found.unjudged.map((/** @type {string | null} */ u, /** @type {number} */ i) => u && html`<p class="refused">This program cannot judge ${i === 0 ? then(found) : now(found)}: ${u}</p>`)}
      ${found.differences.length === 0 ? html`<p>No value differs.</p>` : html`<${Table} caption="Values that differ" head=${["value", then(found), now(found)]} rows=${found.differences.map((/** @type {any} */ d) => [d.key, d.before ?? "-", d.after ?? "-"])} />`}
      ${found.turned.length === 0 ? html`<p>No verdict turned.</p>` : html`<${Table} caption="Verdicts that turned" head=${["verdict that turned", then(found), now(found)]} rows=${found.words.turned} />`}
      ${found.moved.length > 0 && html`<details><summary>The same verdict with another margin (${found.moved.length})</summary><${Table} caption="Verdicts with another margin" head=${["verdict", then(found), now(found)]} rows=${found.words.moved} /></details>`}
      ${found.setpoints.length > 0 && html`<${Table} caption="Setpoints" head=${["setpoint", then(found), now(found)]} rows=${found.words.setpoints} />`}
      <p class="quiet">Both are judged by this program as designed, without what test shots taught.</p></div>`}`;
}
