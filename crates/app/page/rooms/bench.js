// @ts-check
/** Bench: the launcher with its knobs, what it does from every spot, and how much throws differ. */
import { html } from "htm/preact";
import { useEffect } from "preact/hooks";
import { changed_keys, choose_spot, filed, filed_scatter, goes_by, parts, project, slow, slow_state, spot, want } from "/lib/state.js";
import { say } from "/lib/say.js";
import { Launcher } from "/parts/launcher.js";
import { Group } from "/parts/quantity.js";
import { Picture, Table } from "/parts/picture.js";
import { Sign } from "/parts/sign.js";

/** @param {any} s a spot of check */
const best = (s) => s?.solutions?.[s.chosen ?? 0] ?? null;

const HEAD = ["spot", "distance", "wheel", "± untested", "exit", "angle", "entry", "clearance", "arrives"];
/** @param {any} check */
const rows = (check) =>
  check.spots.map((/** @type {any} */ s) => {
    const b = best(s);
    if (!b) return [s.spot, say(s.distance_m, "length"), "out of reach", "-", "-", "-", "-", "-", "-"];
    const a = b.arrival;
    return [
      s.spot,
      say(s.distance_m, "length"),
      say(b.setpoint_radps, "angular_speed"),
      say(b.setpoint_sd_radps, "angular_speed"),
      say(b.exit.speed_mps, "speed"),
      say(b.exit.angle_rad, "angle"),
      say(a.crossing?.entry_rad, "angle"),
      say(a.clearance?.least_m, "length"),
      a.outcome,
    ];
  });

/** The hit chance of a spot, if it has been thrown. @param {any} scatter @param {string} name */
function chance(scatter, name) {
  const s = scatter?.spots.find((/** @type {any} */ s) => s.spot === name);
  if (!s?.centred) return null;
  return s.centred.hit;
}

function Setpoints() {
  const check = parts.value.check;
  if (!check) return null;
  const is_changed = changed_keys.value.length > 0 && filed.value;
  return html`<section><h2>Setpoints</h2>
    <${Table} head=${HEAD} rows=${rows(check)} caption="Setpoints by spot" />
    ${is_changed && html`<h3>As the file has it</h3><${Table} head=${HEAD} rows=${rows(filed.value)} caption="Setpoints of the file" />`}
  </section>`;
}

function Chances() {
  const state = slow_state.value;
  return html`<section aria-live="polite"><h2>How throws scatter ${state === "rough" ? html`<span class="count">rough, getting finer…</span>` : state === "old" || state === "none" ? html`<span class="count">throwing…</span>` : ""}</h2>
    <div class="chances">${project.value.spots.map((/** @type {any} */ s) => {
      const hit = chance(slow.value.scatter, s.name);
      const was = changed_keys.value.length > 0 ? chance(filed_scatter.value, s.name) : null;
      return html`<div class="chance"><b>${s.name}</b> <span class="big">${hit ? say(hit.frac, "ratio") : "…"}</span> <span class="quiet">${hit ? `go in (${say(hit.low_frac, "ratio")} to ${say(hit.high_frac, "ratio")})` : ""}${was ? html`, ${say(was.frac, "ratio")} by the file` : ""}</span></div>`;
    })}</div>
    <div class="pair"><${Picture} name="scatter" svg=${slow.value["picture.scatter"]} old=${state === "old"} /><${Picture} name="budget" svg=${slow.value["picture.budget"]} old=${state === "old"} /></div>
    <${Picture} name="map" svg=${slow.value["picture.map"]} table=${map_table(slow.value.map)} old=${state === "old"} />
  </section>`;
}

/** Hit chance by distance (rows) and place aside (columns), as the map is drawn. @param {any} map */
function map_table(map) {
  if (!map?.places) return undefined;
  const across = map.offsets_m.length;
  const aside = (/** @type {number} */ o) => (o === 0 ? "ahead" : `${say(Math.abs(o), "length")} ${o > 0 ? "left" : "right"}`);
  const columns = map.offsets_m.map((/** @type {number} */ _, /** @type {number} */ i) => across - 1 - i);
  return {
    head: ["distance", ...columns.map((/** @type {number} */ c) => aside(map.offsets_m[c]))],
    rows: map.distances_m.map((/** @type {number} */ d, /** @type {number} */ r) => [
      say(d, "length"),
      ...columns.map((/** @type {number} */ c) => {
        const hit = map.places[r * across + c]?.hit;
        return hit ? say(hit.frac, "ratio") : "-";
      }),
    ]),
  };
}

/** @param {any} volley */
const volley_rows = (volley) =>
  volley?.throws?.map((/** @type {any} */ t) => [t.index + 1, say(t.time_s, "time"), say(t.wheel_before_radps, "angular_speed"), say(t.wheel_after_radps, "angular_speed"), say(t.dip_frac, "ratio"), say(t.recovery_s, "time"), t.outcome]) ?? [];

export function Bench() {
  useEffect(() => want(["picture.launcher", "hold.launcher", "picture.flights", "picture.volley", "picture.guide-force", "picture.setpoints", "volley"], true), []);
  const p = parts.value;
  const q = (/** @type {string} */ start) => project.value.quantities.filter((/** @type {any} */ q) => q.key.startsWith(start) && !q.key.startsWith("launcher.sheet"));
  const fails = p.check?.verdicts.filter((/** @type {any} */ v) => v.status === "fails") ?? [];
  return html`
    ${goes_by.value && html`<p class="lead">${goes_by.value}</p>`}
    <div class="two bench">
      <div>
        <fieldset class="pick"><legend>Thrown from</legend>${project.value.spots.map((/** @type {any} */ s) => html`<label><input type="radio" name="spot" checked=${s.name === spot.value} onChange=${() => choose_spot(s.name)} /> <span>${s.name}</span></label>`)}</fieldset>
        <div class="pair">
          <${Launcher} />
          <${Picture} name="flights" svg=${p["picture.flights"]} table=${p.check && { head: HEAD, rows: rows(p.check) }} />
        </div>
        ${fails.length > 0 && html`<ul class="fails">${fails.map((/** @type {any} */ v) => html`<li><${Sign} status="fails" /> <b>${v.check}${v.subject ? `: ${v.subject}` : ""}</b> ${v.why}</li>`)}</ul>`}
        <${Setpoints} />
        <${Chances} />
        <div class="pair">
          <${Picture} name="volley" svg=${p["picture.volley"]} table=${{ head: ["throw", "at", "wheel before", "after", "dip", "back after", "arrives"], rows: volley_rows(p.volley) }} />
          <${Picture} name="guide-force" svg=${p["picture.guide-force"]} />
          <${Picture} name="setpoints" svg=${p["picture.setpoints"]} table=${p.check && { head: HEAD, rows: rows(p.check) }} />
        </div>
      </div>
      <aside class="panel" aria-label="The machine in numbers">
        <${Group} title="Knobs" open=${true} keys=${q("setting.")} />
        <${Group} title="Wheel" open=${true} keys=${q("wheel.")} />
        <${Group} title="Guide and feed" open=${true} keys=${q("launcher.")} />
        <${Group} title="Motor" keys=${q("motor.")} />
        <${Group} title="Battery" keys=${q("battery.")} />
        <${Group} title="Speed loop" keys=${q("controller.")} />
        <${Group} title="From throw to throw" keys=${q("throws.")} />
        <${Group} title="Moving while throwing" keys=${q("moving.")} />
      </aside>
    </div>`;
}
