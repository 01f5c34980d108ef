// @ts-check
/** Bench: the launcher with its knobs, what it does from every spot, and how much throws differ. */
import { html } from "htm/preact";
import { useEffect } from "preact/hooks";
import { changed_keys, choose_spot, draft, goes_by, parts, pin, project, settled, rival, set_side_by_side, side_by_side, slow, slow_state, spot, swap, want } from "/lib/state.js";
import { chance as say_chance, say } from "/lib/say.js";
import { Launcher, passage } from "/parts/launcher.js";
import { Group } from "/parts/quantity.js";
import { Picture, Table } from "/parts/picture.js";
import { Sign } from "/parts/sign.js";
import { told } from "/parts/told.js";
import { Helps } from "/parts/verdicts.js";

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

/** Where throws cross the opening, by spot. @param {any} scatter */
function scatter_table(scatter) {
  const rows = scatter?.spots.filter((/** @type {any} */ s) => s.centred).map((/** @type {any} */ s) => {
    const c = s.centred;
    return [s.spot, say(c.along_m.value, "length"), say(c.across_m.value, "length"), say(c.along_sd_m.value, "length"), say(c.across_sd_m.value, "length"), say(c.r50_m.value, "length"), say(c.r95_m.value, "length"), say_chance(c.hit.frac), c.throws];
  });
  return rows && { head: ["spot", "along", "across", "along ±", "across ±", "half within", "95 % within", "go in", "throws"], rows };
}

/** What makes the scatter, by spot and cause. @param {any} scatter */
function budget_table(scatter) {
  const rows = scatter?.spots.flatMap((/** @type {any} */ s) => (s.budget ?? []).map((/** @type {any} */ c) => [`${s.spot}: ${c.cause.replaceAll("-", " ")}`, say(c.along.total?.value, "ratio"), say(c.across.total?.value, "ratio"), say(c.alone_along_m, "length"), say(c.alone_across_m, "length")]));
  return rows?.length > 0 ? { head: ["spot: cause", "share along", "share across", "alone along ±", "alone across ±"], rows } : undefined;
}

/** Force along the guide, moment by moment. @param {any} hold */
const force_table = (hold) =>
  hold?.moments?.length > 0 ? { head: ["time", "force on the wheel", "force on the guide"], rows: hold.moments.map((/** @type {any} */ x) => [say(x.time_s, "time"), say(x.wheel_n, "force"), say(x.guide_n, "force")]) } : undefined;

function Setpoints() {
  const check = parts.value.check;
  if (!check) return null;
  return html`<section><h2>Setpoints</h2><${Table} head=${HEAD} rows=${rows(check)} caption="Setpoints by spot" /></section>`;
}

function Chances() {
  const state = slow_state.value;
  return html`<section aria-live="polite"><h2>How throws scatter ${state === "rough" ? html`<span class="count">rough, getting finer…</span>` : state === "old" || state === "none" ? html`<span class="count">throwing…</span>` : ""}</h2>
    <div class="chances">${project.value.spots.map((/** @type {any} */ s) => {
      const hit = chance(slow.value.scatter, s.name);
      return html`<div class="chance"><b>${s.name}</b> <span class="big">${hit ? say_chance(hit.frac) : "…"}</span> <span class="quiet">${hit ? `go in (${say(hit.low_frac, "ratio")} to ${say(hit.high_frac, "ratio")})` : ""}</span></div>`;
    })}</div>
    <div class="pair"><${Picture} name="scatter" svg=${slow.value["picture.scatter"]} table=${scatter_table(slow.value.scatter)} old=${state === "old"} /><${Picture} name="budget" svg=${slow.value["picture.budget"]} table=${budget_table(slow.value.scatter)} old=${state === "old"} /></div>
    <div class="midway"><${Picture} name="map" svg=${slow.value["picture.map"]} table=${map_table(slow.value.map)} old=${state === "old"} /></div>
  </section>`;
}

/** Two designs: A is the file or what was pinned, B what is on the bench. */
function SideBySide() {
  const on = side_by_side.value;
  const { pinned, parts: a, scatter } = rival.value;
  const b = parts.value;
  const name = pinned ? "pinned" : "the file";
  const fails = (/** @type {any} */ check) => check?.verdicts.filter((/** @type {any} */ v) => v.status === "fails").length ?? "…";
  const pair = (/** @type {any} */ x, /** @type {string} */ unit) => (x === null || x === undefined ? "-" : say(x, unit));
  const table = a.check && b.check && project.value.spots.map((/** @type {any} */ s) => {
    const of = (/** @type {any} */ check) => best(check.spots.find((/** @type {any} */ c) => c.spot === s.name));
    const [x, y] = [of(a.check), of(b.check)];
    const [p, q] = [chance(scatter, s.name), chance(slow.value.scatter, s.name)];
    const by = p && q ? q.frac - p.frac : null;
    return [s.name, pair(x?.setpoint_radps, "angular_speed"), pair(y?.setpoint_radps, "angular_speed"), pair(x?.exit.speed_mps, "speed"), pair(y?.exit.speed_mps, "speed"), p ? say_chance(p.frac) : "-", q ? say_chance(q.frac) : "-", by === null ? "…" : `${by >= 0 ? "+" : "−"}${say(Math.abs(by), "ratio")}`];
  });
  return html`<section class="side-by-side"><h2>Two designs side by side</h2>
    <div class="acts"><button type="button" aria-pressed=${on && !pinned} onClick=${() => (on && !pinned ? set_side_by_side(false) : pin(null))}>Compare with the file</button>
      <button type="button" onClick=${() => pin({ ...draft.value })}>Pin what is here as A</button>
      ${on && html`<button type="button" onClick=${swap}>Swap A and B</button><button type="button" onClick=${() => set_side_by_side(false)}>Close</button>`}</div>
    ${on && html`<p class="quiet">A: ${name}, ${fails(a.check)} fail. B: what is on the bench${changed_keys.value.length > 0 ? ` (${changed_keys.value.length} changed)` : ", as in the file"}, ${fails(b.check)} fail. Both are thrown with the same random numbers, so the difference is that of the designs, not of chance.</p>
      ${table && html`<${Table} head=${["spot", "wheel A", "wheel B", "exit A", "exit B", "go in A", "go in B", "B − A"]} rows=${table} caption="Design A and design B by spot" />`}
      <div class="pair"><div><h3>A: ${name}</h3><${Picture} name="launcher A" svg=${a["picture.launcher"]} table=${passage(a["hold.launcher"])} /><${Picture} name="flights A" svg=${a["picture.flights"]} table=${a.check && { head: HEAD, rows: rows(a.check) }} /></div>
        <div><h3>B: on the bench</h3><${Picture} name="launcher B" svg=${b["picture.launcher"]} table=${passage(b["hold.launcher"])} /><${Picture} name="flights B" svg=${b["picture.flights"]} table=${b.check && { head: HEAD, rows: rows(b.check) }} /></div></div>`}
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
        ${fails.length > 0 && html`<ul class="fails">${fails.map((/** @type {any} */ v) => html`<li><${Sign} status="fails" /> <b>${v.check}${v.subject ? `: ${v.subject}` : ""}</b> ${told(v.why)}<${Helps} v=${v} /></li>`)}</ul>`}
        <${Setpoints} />
        <${Chances} />
        <${SideBySide} />
        <div class="pair">
          <${Picture} name="volley" svg=${p["picture.volley"]} table=${{ head: ["throw", "at", "wheel before", "after", "dip", "back after", "arrives"], rows: volley_rows(p.volley) }} />
          <${Picture} name="guide-force" svg=${p["picture.guide-force"]} table=${force_table(p["hold.launcher"])} />
          <${Picture} name="setpoints" old=${!settled.value} svg=${p["picture.setpoints"]} table=${p.check && { head: HEAD, rows: rows(p.check) }} />
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
