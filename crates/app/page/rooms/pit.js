// @ts-check
/** Pit: one page to take along, and whether anything has changed. */
import { html } from "htm/preact";
import { useEffect, useState } from "preact/hooks";
import { signal } from "@preact/signals";
import { log_changes, parts, project, want } from "/lib/state.js";
import { Refused, get } from "/lib/server.js";
import { fetch_rehearsal, of_log, rehearsal, rehearsing } from "/lib/rehearsal.js";
import { say } from "/lib/say.js";
import { Drift } from "/parts/drift.js";
import { Table } from "/parts/picture.js";
import { Rehearsing } from "/parts/rehearsal.js";

const fit = signal(/** @type {any} */ (null));
const next = signal(/** @type {any} */ (null));

async function fetch_fit() {
  try {
    await fetch_rehearsal();
    const has_log = project.value.from !== "demo" || rehearsing.value;
    fit.value = has_log ? await get(of_log("floor/fit")) : null;
    next.value = has_log ? await get(of_log("floor/next")) : null;
  } catch (e) {
    if (!(e instanceof Refused)) throw e;
    fit.value = next.value = null;
  }
}

/** How the robot stands to the target, as it is thrown from there at present. @param {string} spot */
function aim_of(spot) {
  const turned = next.value?.spots.find((/** @type {any} */ s) => s.spot === spot)?.turned_rad ?? 0;
  return say(Math.abs(turned), "angle") === say(0, "angle") ? "straight" : `${say(Math.abs(turned), "angle")} ${turned > 0 ? "left" : "right"}`;
}

/** Common practice, no source. */
const BEFORE = ["Eye protection on, guards closed, lane clear", "Battery charged, terminals covered, fuse in", "Wheel turns free by hand, battery off; no crack, no loose tread", "Guide and hood tight; lengths as the ruler says", "Wheel speeds in the code are those above", "Pieces dry, whole, of the usual kind", "One throw from the nearest spot: does it go in?"];

function Ticks() {
  const [done, set_done] = useState(/** @type {boolean[]} */ ([]));
  const tick = (/** @type {number} */ i) => set_done(BEFORE.map((_, k) => (k === i ? !done[k] : (done[k] ?? false))));
  const left = BEFORE.filter((_, i) => !done[i]).length;
  return html`<section><h3>Before the match</h3><ul class="ticks">${BEFORE.map((b, i) => html`<li><label><input type="checkbox" checked=${done[i] ?? false} onChange=${() => tick(i)} /> <span>${b}</span></label></li>`)}</ul>
    <p class="quiet screen" role="status">${left === 0 ? html`All done. <button type="button" onClick=${() => set_done([])}>Again</button>` : `${left} to do`}</p></section>`;
}

export function Pit() {
  useEffect(() => want(["volley", "ruler"], false), []);
  useEffect(() => {
    fetch_fit();
  }, [log_changes.value, project.value.at, rehearsing.value]);
  const check = parts.value.check;
  if (!check) return html`<p>working…</p>`;
  const learned = fit.value?.confident ? fit.value : null;
  const q = (/** @type {string} */ k) => project.value.quantities.find((/** @type {any} */ q) => q.key === k)?.text;
  const rows = check.spots.map((/** @type {any} */ s) => {
    const l = learned?.setpoints.find((/** @type {any} */ x) => x.spot === s.spot);
    const b = s.solutions?.[s.chosen ?? 0];
    const radps = l?.setpoint_radps ?? b?.setpoint_radps;
    return [s.spot, say(s.distance_m, "length"), say(radps, "angular_speed"), aim_of(s.spot), l ? say(l.hit_expected_frac, "ratio") : "not tested", ""];
  });
  const volley = parts.value.volley;
  const practised = rehearsing.value && rehearsal.value?.going ? rehearsal.value : null;
  const ruler = practised?.ruler ?? parts.value.ruler ?? [];
  const knob = (/** @type {number} */ value, /** @type {string} */ key, /** @type {string} */ dimension) => (practised ? say(value, dimension) : (q(key) ?? "none"));
  const set = practised?.setting ?? {};
  return html`<${Rehearsing} /><div class="card">
    <button type="button" class="print" onClick=${() => print()}>Print this page</button>
    <h2>${project.value.project}</h2>
    <p>${learned ? `Setpoints learned from ${learned.shots} shots${practised ? " of a rehearsal: not for a robot" : ""}.` : "Setpoints by the design: no confident fit of test shots yet. Correct them on the floor first."}</p>
    <${Table} head=${["spot", "distance", "wheel", "turned", "hits to expect", "changed to"]} rows=${rows} caption="Setpoints" />
    <div class="pair">
      <section><h3>Check with a ruler, battery off</h3><dl>
        ${ruler.map((/** @type {any} */ m) => html`<dt>${m.what}</dt><dd>${m.says}</dd>`)}</dl>
        <p class="quiet">Marks: slide ${knob(set.slide_m, "setting.slide", "length")}, tilt ${knob(set.tilt_rad, "setting.tilt", "angle")}, reach ${knob(set.reach_m, "setting.reach", "length")}.</p></section>
      <section><h3>Wheel and battery</h3><dl>
        <dt>ready after</dt><dd>${say(volley?.ready_s, "time")}</dd><dt>peak current</dt><dd>${say(volley?.peak_battery_a, "current")}</dd><dt>lowest voltage</dt><dd>${say(volley?.lowest_battery_v, "voltage")}</dd><dt>battery at rest</dt><dd>${q("battery.open_voltage")}</dd></dl></section>
      <${Ticks} />
      <section class="paper"><h3>Has anything changed?</h3><p>Five throws from one spot. Without a phone, write down how far each missed:</p>
        <table class="blank"><thead><tr>${[1, 2, 3, 4, 5].map((n) => html`<th>${n}</th>`)}</tr></thead><tbody><tr>${[1, 2, 3, 4, 5].map(() => html`<td></td>`)}</tr></tbody></table></section>
    </div>
    <p class="caution">Planning figures; none of them shows that a machine is safe. The event's rules, local codes and the supervising adult govern.</p>
  </div>
  ${!rehearsing.value && project.value.from !== "demo" && html`<div class="screen"><${Drift} /></div>`}
  ${!rehearsing.value && project.value.from === "demo" && html`<p class="quiet screen">Five throws, or a robot's log, tell whether anything has changed: keep the demo as a project of your own first.</p>`}`;
}
