// @ts-check
/** Pit: one page to take along. */
import { html } from "htm/preact";
import { useEffect } from "preact/hooks";
import { signal } from "@preact/signals";
import { log_changes, parts, project, want } from "/lib/state.js";
import { Refused, get } from "/lib/server.js";
import { of_log, rehearsing, fetch_rehearsal } from "/lib/rehearsal.js";
import { say } from "/lib/say.js";
import { Rehearsing } from "/parts/rehearsal.js";
import { Table } from "/parts/picture.js";

const fit = signal(/** @type {any} */ (null));

async function fetch_fit() {
  try {
    await fetch_rehearsal();
    fit.value = project.value.from === "demo" && !rehearsing.value ? null : await get(of_log("floor/fit"));
  } catch (e) {
    if (!(e instanceof Refused)) throw e;
    fit.value = null;
  }
}

/** Common practice, no source. */
const BEFORE = ["Eye protection on, guards closed, lane clear", "Battery charged, terminals covered, fuse in", "Wheel turns free by hand, no crack, no loose tread", "Guide and hood tight; marks where the ruler says", "One throw from the nearest spot: does it go in?"];

export function Pit() {
  useEffect(() => want(["volley"], false), []);
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
    return [s.spot, say(s.distance_m, "length"), say(radps, "angular_speed"), l ? say(l.hit_expected_frac, "ratio") : "not tested", ""];
  });
  const volley = parts.value.volley;
  return html`<${Rehearsing} /><div class="card">
    <button type="button" class="print" onClick=${() => print()}>Print this page</button>
    <h2>${project.value.project}</h2>
    <p>${learned ? `Setpoints learned from ${learned.shots} shots.` : "Setpoints by the design: no confident fit of test shots yet. Correct them on the floor first."}</p>
    <${Table} head=${["spot", "distance", "wheel", "hits to expect", "changed to"]} rows=${rows} caption="Setpoints" />
    <div class="pair">
      <section><h3>Check with a ruler</h3><dl>
        <dt>slide</dt><dd>${q("setting.slide") ?? "none"}</dd><dt>tilt</dt><dd>${q("setting.tilt") ?? "none"}</dd><dt>reach</dt><dd>${q("setting.reach") ?? "none"}</dd>
        <dt>gap, wheel to guide</dt><dd>${q("launcher.gap") ?? "-"}</dd></dl></section>
      <section><h3>Wheel and battery</h3><dl>
        <dt>ready after</dt><dd>${say(volley?.ready_s, "time")}</dd><dt>peak current</dt><dd>${say(volley?.peak_battery_a, "current")}</dd><dt>lowest voltage</dt><dd>${say(volley?.lowest_battery_v, "voltage")}</dd><dt>battery at rest</dt><dd>${q("battery.open_voltage")}</dd></dl></section>
      <section><h3>Before the match</h3><ul class="ticks">${BEFORE.map((b) => html`<li>${b}</li>`)}</ul></section>
      <section><h3>Has anything changed?</h3><p>Five throws from one spot, logged on the floor page. Write them down here without a phone:</p>
        <table class="blank"><thead><tr>${[1, 2, 3, 4, 5].map((n) => html`<th>${n}</th>`)}</tr></thead><tbody><tr>${[1, 2, 3, 4, 5].map(() => html`<td></td>`)}</tr></tbody></table></section>
    </div>
    <p class="caution">Planning figures; none of them shows that a machine is safe. The event's rules, local codes and the supervising adult govern.</p>
  </div>`;
}
