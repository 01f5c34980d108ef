// @ts-check
/** Floor: a shot in two taps, what to do next, what was learned. Made for one thumb and sunlight. */
import { html } from "htm/preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { signal } from "@preact/signals";
import { choose_spot, doing, log_changes, project, spot, want } from "/lib/state.js";
import { Refused, get, post } from "/lib/server.js";
import { flush, last, log, waiting } from "/lib/queue.js";
import { say } from "/lib/say.js";
import { Table } from "/parts/picture.js";

const shots = signal(/** @type {any} */ (null));
const next = signal(/** @type {any} */ (null));
const fit = signal(/** @type {any} */ (null));
const why_not = signal("");

let fetching = false;
let again = false;
async function fetch_all() {
  if (fetching) {
    again = true;
    return;
  }
  fetching = true;
  do {
    again = false;
    try {
      shots.value = await get("floor");
      why_not.value = "";
      next.value = await get("floor/next");
      fit.value = shots.value.says.length > 0 ? await get("floor/fit") : null;
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      if (e.why !== "unreachable") why_not.value = `${e.problems[0]?.what ?? ""}. ${e.problems[0]?.fix ?? ""}`;
      if (e.problems[0]?.code === "no-folder") shots.value = null;
    }
  } while (again);
  fetching = false;
}

const WORDS = ["in", "rim", "short", "long", "left", "right", "under", "none"];
const ABOUT = { none: "never came down there", under: "through below", rim: "touched the rim" };

/**
 * The opening from above (or from the front where it stands upright), to tap where the piece went.
 * @param {{at: [number, number] | null, set: (at: [number, number] | null) => void}} p
 */
function Opening({ at, set }) {
  const t = project.value.target;
  const svg = useRef(/** @type {SVGSVGElement | null} */ (null));
  const [w, d] = [t.width_m, t.depth_m];
  const reach = 0.9 * Math.max(w, d);
  const [half_w, half_h] = [w / 2 + reach, d / 2 + reach];
  const px = 500 / half_w / 2;
  const [W, H] = [500, half_h * 2 * px];
  const x = (/** @type {number} */ across) => W / 2 - across * px;
  const y = (/** @type {number} */ along) => H / 2 - along * px;
  const tap = (/** @type {PointerEvent} */ e) => {
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(svg.current?.getScreenCTM()?.inverse());
    set([(H / 2 - p.y) / px, (W / 2 - p.x) / px]);
  };
  const key = (/** @type {KeyboardEvent} */ e) => {
    const by = { ArrowUp: [0.02, 0], ArrowDown: [-0.02, 0], ArrowLeft: [0, 0.02], ArrowRight: [0, -0.02] }[e.key];
    if (!by) return;
    e.preventDefault();
    set([(at?.[0] ?? 0) + by[0], (at?.[1] ?? 0) + by[1]]);
  };
  const hole = t.round ? html`<ellipse class="hole" cx=${W / 2} cy=${H / 2} rx=${(w / 2) * px} ry=${(d / 2) * px} />` : html`<rect class="hole" x=${x(w / 2)} y=${y(d / 2)} width=${w * px} height=${d * px} />`;
  return html`<svg ref=${svg} class="opening" viewBox=${`0 0 ${W} ${H}`} tabindex="0" role="application" aria-label=${`The opening: tap where the piece passed, or move the mark with the arrow keys. ${at ? words_of(at) : "No mark yet"}`} onPointerDown=${tap} onKeyDown=${key}>
    ${hole}<path class="cross" d=${`M${W / 2} ${H / 2 - 12}v24M${W / 2 - 12} ${H / 2}h24`} />
    <text x=${W / 2} y="22">long</text><text x=${W / 2} y=${H - 10}>short</text><text x="30" y=${H / 2}>left</text><text x=${W - 32} y=${H / 2}>right</text>
    ${at && html`<g class="mark"><circle cx=${x(at[1])} cy=${y(at[0])} r="13" /><circle class="dot" cx=${x(at[1])} cy=${y(at[0])} r="4" /></g>`}
  </svg>`;
}

/** A place on the opening in the words of a log. @param {[number, number]} at */
function words_of([along, across]) {
  const cm = (/** @type {number} */ m) => `${Math.round(Math.abs(m) * 100)}cm`;
  const parts = [];
  if (Math.abs(along) >= 0.005) parts.push(`${along > 0 ? "long" : "short"} ${cm(along)}`);
  if (Math.abs(across) >= 0.005) parts.push(`${across > 0 ? "left" : "right"} ${cm(across)}`);
  const t = project.value.target;
  const inside = t.round ? (along / (t.depth_m / 2)) ** 2 + (across / (t.width_m / 2)) ** 2 < 1 : Math.abs(along) < t.depth_m / 2 && Math.abs(across) < t.width_m / 2;
  if (!parts.length) return "in";
  return `${parts.join(" ")}${inside ? " in" : ""}`;
}

/** Speed that a spot is thrown with: what the next shot asks for, else the last one. @param {string} name */
function speed_of(name) {
  const shot = next.value?.shot?.spot === name ? next.value.shot.setpoint_radps : next.value?.spots.find((/** @type {any} */ s) => s.spot === name)?.setpoint_radps;
  const moved = next.value?.moves.find((/** @type {any} */ m) => m.spot === name && m.knob === "speed");
  return moved?.to ?? shot ?? null;
}

function Log() {
  const [outcome, set_outcome] = useState("");
  const [at, set_at] = useState(/** @type {[number, number] | null} */ (null));
  const [more, set_more] = useState("");
  const name = spot.value;
  const radps = speed_of(name);
  const rpm = radps ? `${Math.round((radps * 30) / Math.PI)}` : "";
  const what = at ? words_of(at) : outcome;
  const line = [name, rpm, what, more.trim()].filter(Boolean).join(" ");
  const send = async () => {
    await log(line);
    set_at(null);
    set_outcome("");
    set_more("");
  };
  return html`<section class="log" aria-label="Log a shot">
    <fieldset class="pick"><legend>Thrown from</legend>${project.value.spots.map((/** @type {any} */ s) => html`<label><input type="radio" name="spot" checked=${s.name === name} onChange=${() => choose_spot(s.name)} /> <span>${s.name}</span></label>`)}</fieldset>
    <${Opening} at=${at} set=${(/** @type {any} */ a) => { set_at(a); set_outcome(""); }} />
    <div class="outcomes" role="group" aria-label="Or what became of it">${WORDS.map((w) => html`<button type="button" aria-pressed=${outcome === w} title=${/** @type {any} */ (ABOUT)[w] ?? w} onClick=${() => { set_outcome(w); set_at(null); }}>${w}</button>`)}</div>
    <label class="more">More, in words <input value=${more} placeholder="after 3200, fall 1.24s, piece 3" onInput=${(/** @type {any} */ e) => set_more(e.target.value)} /></label>
    <button type="button" class="main log-it" disabled=${!what} onClick=${send}>${what ? html`Log: <b>${line}</b>` : "Tap where it went"}</button>
    <${Said} />
  </section>`;
}

function Said() {
  const l = last.value;
  const back = () => doing(async () => { const said = await post("floor/undo", {}); last.value = { says: said.says, words: "", key: "" }; });
  return html`<div class="said" aria-live="polite">
    ${waiting.value.length > 0 && html`<p class="waits"><b>${waiting.value.length}</b> waiting for the connection <button type="button" onClick=${() => flush()}>Send now</button></p>`}
    ${l?.says && html`<p>${l.says} <button type="button" onClick=${back}>Undo</button></p>`}
    ${l?.refused && html`<div class="refused">${l.refused.problems.map((p) => html`<p><b>${p.what}</b> ${p.fix}</p>`)}<p>Not logged: <code>${l.words}</code> <button type="button" onClick=${() => log(l.words, true)}>Log it anyway</button></p></div>`}
  </div>`;
}

function Next() {
  const n = next.value;
  if (!n) return html`<section class="next"><h2>Next</h2><p>${why_not.value || "working it out…"}</p></section>`;
  return html`<section class=${`next ${n.stop ? "stop" : ""}`} aria-live="polite"><h2>${n.stop ? "Stop" : "Next"}</h2>${n.says.map((/** @type {string} */ s) => html`<p class=${s.startsWith("  ") ? "quiet" : ""}>${s}</p>`)}</section>`;
}

function Learned() {
  const f = fit.value;
  if (!f) return null;
  const head = ["spot", "learned", "design", "hits to expect"];
  const rows = f.setpoints.map((/** @type {any} */ s) => [s.spot, s.setpoint_radps === null ? "-" : `${say(s.setpoint_radps, "angular_speed")}${f.confident ? ` ± ${say(s.setpoint_sd_radps, "angular_speed")}` : ""}`, say(s.design_radps, "angular_speed"), say(s.hit_expected_frac, "ratio")]);
  const keep = () => doing(async () => { fit.value = await post("floor/fit", {}); });
  return html`<section><h2>What ${f.shots} shots taught</h2>
    <p>${f.kept ? "Kept: Bench, Pit and every command go by this now." : html`<button type="button" onClick=${keep}>Go by these setpoints</button> <span class="quiet">in Bench, Pit and every command; more shots can be fitted again at any time</span>`}</p><${Table} head=${head} rows=${rows} caption="Learned setpoints" />
    ${f.notes.map((/** @type {any} */ n) => html`<p class="quiet">${n.what} ${n.fix}</p>`)}</section>`;
}

function Shots() {
  const s = shots.value;
  if (!s || !s.says.length) return html`<section><h2>Shots</h2><p>None yet.</p></section>`;
  const list = [...s.says].reverse();
  return html`<section><h2>Shots</h2><ol class="shots" reversed>${list.slice(0, 40).map((/** @type {any} */ l) => html`<li value=${l.shot}><b>${l.place}</b> ${l.seen} <span class="quiet">${l.besides}</span></li>`)}</ol></section>`;
}

export function Floor() {
  useEffect(() => want([], false), []);
  useEffect(() => {
    fetch_all();
  }, [log_changes.value]);
  if (project.value.from === "demo") {
    return html`<section class="lead"><p>Shots are logged beside a project of your own. Keep this demo as a project first.</p>
      <form onSubmit=${async (/** @type {any} */ e) => { e.preventDefault(); const { keep_as } = await import("/lib/state.js"); await keep_as(new FormData(e.target).get("name")?.toString() ?? ""); }}>
        <label>Name of the folder <input name="name" value="my-thrower" required pattern="[^/\\\\]+" /></label> <button class="main">Keep as my project</button></form></section>`;
  }
  return html`<p class="caution">Eye protection for everyone in range, a clear lane, a net behind the target, nobody in line with the wheel. Whoever types stands beside the thrower.</p>
    <div class="two floor"><${Log} /><div><${Next} /><${Learned} /><${Shots} /></div></div>`;
}
