// @ts-check
/** Season: matches played in the background, from few ways in which what is not known may turn out to many. */
import { html } from "htm/preact";
import { signal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { line } from "/lib/server.js";
import { draft, log_changes, project } from "/lib/state.js";
import { say } from "/lib/say.js";
import { Picture, Table } from "/parts/picture.js";
import { told } from "/parts/told.js";

/** Ways that are played, one after the other. */
const STAGES = [40, 200, 1000];
/** @type {import("@preact/signals").Signal<any>} */
const found = signal(null);
const picture = signal(/** @type {any} */ (undefined));
/** Ways that are being played; 0 when nothing is. It begins as soon as the room is looked at. */
const playing = signal(STAGES[0]);
const is_old = signal(false);
const refused = signal(/** @type {any} */ (null));

const play = line(
  "season",
  (parts, asked) => {
    refused.value = parts.season?.refused ?? null;
    if (!parts.season || parts.season.refused) {
      playing.value = 0;
      return;
    }
    found.value = parts.season;
    picture.value = parts["picture.season"];
    is_old.value = false;
    const next = STAGES[STAGES.indexOf(asked.worlds) + 1];
    if (playing.value && next) ask(next);
    else playing.value = 0;
  },
  (trouble) => {
    playing.value = 0;
    refused.value = trouble.problems[0] ?? { what: "The season could not be played.", fix: "" };
  },
  true,
);

/** @param {number} worlds */
function ask(worlds) {
  playing.value = worlds;
  play({ want: ["season", "picture.season"], worlds, changes: Object.entries(draft.value).map(([key, value]) => ({ key, value })) });
}

function stop() {
  playing.value = 0;
  // The newest question of the line is an empty one: the server leaves the one before it.
  play({ want: [] });
}

const points = (/** @type {number} */ v) => (Math.abs(v) < 9.95 ? v.toFixed(1) : v.toFixed(0));
const gain = (/** @type {number} */ v) => (v >= 0.05 ? `+${points(v)}` : points(Math.abs(v) < 0.05 ? 0 : v));
const range = (/** @type {any} */ r, /** @type {(v: number) => string} */ words) => `${words(r.low)} to ${words(r.high)}`;
const share = (/** @type {number | null} */ v) => say(v, "ratio");

/** @param {any} s */
const ranking = (s) => ({
  head: ["change", "points a day (nine in ten)", "a match", "days", "money", "is best", "beats (nine in ten)"],
  rows: s.changes.map((/** @type {any} */ c) => [c.change, `${gain(c.per_day)} (${range(c.per_day_range, gain)})`, gain(c.gain), c.days, c.money, share(c.best_frac), c.beats_range ? `${share(c.beats_frac)} (${range(c.beats_range, share)})` : "-"]),
});

/** @param {any} s */
const depends = (s) => ({
  head: ["input", "a fifth lower", "a fifth higher", "first if lower", "first if higher"],
  rows: s.depends.map((/** @type {any} */ l) => [l.input, points(l.lower), points(l.higher), l.first_lower ?? "none", l.first_higher ?? "none"]),
});

/** The opening, step by step. @param {{o: any}} p */
function Opening({ o }) {
  return html`<h3>Opening routine</h3>
    <div class="texts"><${Table} head=${["from", "state", "does", "until"]} rows=${o.steps.map((/** @type {any} */ s) => [say(s.start_s, "time"), s.state, s.does, s.until])} caption="Opening routine" /></div>
    <p>${o.says}. The programmers get these states with <code>arcwright hand</code>.</p>`;
}

export function Season() {
  const p = project.value;
  const wishes = JSON.stringify(draft.value);
  useEffect(() => {
    if (found.value) is_old.value = true;
    playing.value = STAGES[0];
    const timer = setTimeout(() => ask(STAGES[0]), 500);
    return () => clearTimeout(timer);
  }, [p.revision, wishes, log_changes.value]);
  const s = found.value;
  const at = STAGES.indexOf(playing.value);
  return html`<section id="season" class="season"><h2>What next? A season of matches</h2>
    <div class="playing" aria-live="polite">${playing.value > 0
      ? html`<label>playing ${playing.value} ways in which what is not known may turn out <progress max=${STAGES.length} value=${at}></progress></label> <button type="button" onClick=${stop}>Stop</button>`
      : html`<span class="quiet">${s ? `${s.worlds} ways of ${s.matches} matches each${is_old.value ? ", of earlier values" : ""}` : "nothing played yet"}</span> <button type="button" onClick=${() => ask(STAGES[0])}>Play again</button>`}</div>
    ${refused.value && html`<p class="refused"><b>${refused.value.what}</b> ${refused.value.fix}</p>`}
    ${s && !refused.value && html`
      <div class="chances">
        <div class="chance"><b>now</b> <span class="big">${points(s.points.mean)}</span> <span class="quiet">points on average, ${points(s.points.tenths[0])} on a bad day, ${points(s.points.tenths[2])} on a good one</span></div>
        ${s.points.beats_frac !== null && html`<div class="chance"><b>beats ${points(s.points.beat)}</b> <span class="big">${share(s.points.beats_frac)}</span> <span class="quiet">of matches (${range(s.points.beats_range, share)})</span></div>`}
        ${s.changes[0] && html`<div class="chance"><b>first</b> <span class="big">${s.changes[0].change}</span> <span class="quiet">${gain(s.changes[0].per_day)} points for each day of work (${range(s.changes[0].per_day_range, gain)})</span></div>`}
      </div>
      <p>${told(s.says)}</p>
      ${s.chance_says && html`<p>${told(s.chance_says)}</p>`}
      <p class="quiet">From spot ${s.spot}: ${s.round_says}. ${told(s.ranges_say)}</p>
      <${Picture} name="season" svg=${picture.value} table=${ranking(s)} old=${is_old.value} />
      <div class="narrow"><${Table} ...${ranking(s)} caption="Changes by points for each day of work" /></div>
      <h3>What it depends on</h3>
      <${Table} ...${depends(s)} caption="Points and the first change with each input moved" />
      ${s.opening && html`<${Opening} o=${s.opening} />`}`}
  </section>`;
}
