// @ts-check
/** Floor: a shot in two taps, what to do next, what was learned. Made for one thumb and sunlight. */
import { html } from "htm/preact";
import { useEffect } from "preact/hooks";
import { doing, keep_as, log_changes, project, want } from "/lib/state.js";
import { post } from "/lib/server.js";
import { fetch_all, fit, next, shots, why_not } from "/lib/floor.js";
import { of_log, rehearsal, rehearsing } from "/lib/rehearsal.js";
import { say, sentence } from "/lib/say.js";
import { Table } from "/parts/picture.js";
import { Incoming } from "/parts/incoming.js";
import { Log } from "/parts/log.js";
import { Begin, Machine, Rehearsing } from "/parts/rehearsal.js";
import { role } from "/parts/share.js";
import { told } from "/parts/told.js";

function Next() {
  const n = next.value;
  if (!n) return html`<section class="next"><h2>Next</h2><p>${why_not.value || "working it out…"}</p></section>`;
  return html`<section class=${`next ${n.stop ? "stop" : ""}`} aria-live="polite"><h2>${n.stop ? "Stop" : "Next"}</h2>${n.says.map((/** @type {string} */ s) => html`<p class=${s.startsWith("  ") ? "quiet" : ""}>${told(s)}</p>`)}</section>`;
}

function Learned() {
  const f = fit.value;
  if (!f) return null;
  const head = ["spot", "learned", "design", "hits to expect"];
  const rows = f.setpoints.map((/** @type {any} */ s) => [s.spot, s.setpoint_radps === null ? "-" : `${say(s.setpoint_radps, "angular_speed")}${f.confident ? ` ± ${say(s.setpoint_sd_radps, "angular_speed")}` : ""}`, say(s.design_radps, "angular_speed"), say(s.hit_expected_frac, "ratio")]);
  const keep = () => doing(async () => { fit.value = await post(of_log("floor/fit"), {}); });
  const kept = f.kept ? "Kept: Bench, Pit and every command go by this now." : html`<button type="button" onClick=${keep}>Go by these setpoints</button> <span class="quiet">in Bench, Pit and every command; more shots can be fitted again at any time</span>`;
  return html`<section><h2>What ${f.shots} shots taught</h2>
    <p>${rehearsing.value ? "Of the hidden machine; the card in Pit shows these while you rehearse." : kept}</p><${Table} head=${head} rows=${rows} caption="Learned setpoints" />
    ${f.notes.map((/** @type {any} */ n) => html`<p class="quiet">${told(sentence(n.what))}; ${told(n.fix)}.</p>`)}</section>`;
}

/** Shots in sight before the rest is folded away. */
const FIRST = 8;

function Shots() {
  const s = shots.value;
  if (!s || !s.says.length) return html`<section><h2>Shots</h2><p>None yet.</p></section>`;
  const list = [...s.says].reverse();
  const items = (/** @type {any[]} */ some) => html`<ol class="shots" reversed>${some.map((/** @type {any} */ l) => html`<li value=${l.shot}><b>${l.place}</b> ${l.seen} <span class="quiet">${l.besides}</span></li>`)}</ol>`;
  return html`<section><h2>Shots${rehearsing.value ? " of the rehearsal" : ""}</h2>${items(list.slice(0, FIRST))}
    ${list.length > FIRST && html`<details><summary>${list.length - FIRST} earlier ones</summary>${items(list.slice(FIRST))}</details>`}</section>`;
}

/** A demo has no log of real shots. */
function OfDemo() {
  const keep = async (/** @type {any} */ e) => {
    e.preventDefault();
    await keep_as(new FormData(e.target).get("name")?.toString() ?? "");
  };
  return html`<div class="lead"><${Begin} open=${true} />
    <section><h2>With a robot of your own</h2><p>Shots are logged beside a project of your own. Keep this demo as a project first.</p>
      <form class="acts" onSubmit=${keep}><label>Name of the folder <input name="name" value="my-thrower" required pattern="[^\\/\\\\]+" /></label> <button>Keep as my project</button></form></section></div>`;
}

export function Floor() {
  useEffect(() => want([], false), []);
  useEffect(() => {
    fetch_all();
  }, [log_changes.value]);
  if (rehearsing.value && rehearsal.value?.going) {
    return html`<${Rehearsing} /><div class="two floor"><${Machine} /><div class="aside"><${Next} /><${Learned} /><${Shots} /><${Begin} key="again" /></div></div>`;
  }
  if (project.value.from === "demo") return html`<${OfDemo} />`;
  if (role.value === "view") return html`<p class="quiet">This device may look on. To log shots, ask the owner for another code.</p><div class="two floor"><div><${Next} /><${Learned} /></div><div class="aside"><${Shots} /></div></div>`;
  return html`<p class="caution">Eye protection for everyone in range, a clear lane, a net behind the target, nobody in line with the wheel. Whoever types stands beside the thrower.</p>
    <div class="two floor"><${Log} /><div class="aside"><${Next} /><${Learned} /><${Shots} /><${Incoming} /><${Begin} key="first" /></div></div>`;
}
