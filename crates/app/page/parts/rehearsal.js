// @ts-check
/** Practice without a robot: how it begins, the hidden machine's buttons, and the truth at the end. */
import { html } from "htm/preact";
import { useState } from "preact/hooks";
import { project } from "/lib/state.js";
import { shots, forget, fetch_all } from "/lib/floor.js";
import { at_work, begin, look_at, pause, prove, rehearsal, rehearsing, run, step, until } from "/lib/rehearsal.js";
import { say } from "/lib/say.js";
import { Opening } from "/parts/opening.js";
import { Table } from "/parts/picture.js";

const SEEN = [
  ["eye", "how far it missed, by eye"],
  ["eye,clock", "that, and the time of flight by stopwatch"],
  ["eye,clock,wheel", "that, and the wheel speed before and after"],
  ["outcome", "only what became of it (in, short, long…)"],
  ["tape", "where it lands on a clear floor, by tape"],
];

/** Other shots are shown from now on. @param {boolean} yes */
function turn(yes) {
  look_at(yes);
  forget();
  fetch_all();
}

/** Said on every sheet of a rehearsal, on paper too. */
export function Rehearsing() {
  const r = rehearsal.value;
  if (!rehearsing.value || !r?.going) return null;
  return html`<div class="rehearsing" role="note"><p><b>Rehearsal.</b> No robot throws: a machine with hidden faults does (seed ${r.seed}), built from this project. Nothing here touches your real shots, your file or your setpoints.</p>
    ${r.project_changed && html`<p>The project was changed since; this machine stays as it was built. Start another to practise on the new one.</p>`}
    <p class="acts"><button type="button" onClick=${() => turn(false)}>Back to the real shots</button></p></div>`;
}

/** The form that begins one. @param {{open?: boolean}} p */
export function Begin({ open = false }) {
  const [see, set_see] = useState("eye");
  const [seed, set_seed] = useState("");
  const r = rehearsal.value;
  const start = async (/** @type {any} */ e) => {
    e.preventDefault();
    forget();
    await begin(seed.trim() === "" ? undefined : Number(seed), see.split(","));
    fetch_all();
  };
  return html`<details class="practise" open=${open}><summary>${rehearsing.value ? "Another machine" : "Practise without a robot"}</summary>
    <p>The program builds a machine from this project, draws what nobody can know beforehand, and hides it. You throw with it, read what the shots teach, and go on to the sign to stop, as on a real floor. It has a log of its own.</p>
    <form onSubmit=${start}>
      <label>What is seen of each shot <select value=${see} onChange=${(/** @type {any} */ e) => set_see(e.target.value)}>${SEEN.map(([v, words]) => html`<option value=${v}>${words}</option>`)}</select></label>
      <label>Machine number <input class="short" type="number" min="0" max="4294967295" step="1" value=${seed} placeholder="any" onInput=${(/** @type {any} */ e) => set_seed(e.target.value)} /></label>
      <button class=${rehearsing.value ? "" : "main"} disabled=${at_work.value}>Build a hidden machine</button>
      ${!rehearsing.value && r?.going && html`<button type="button" onClick=${() => turn(true)}>Go on with number ${r.seed}, ${r.thrown} thrown</button>`}
    </form></details>`;
}

/** The hidden machine in place of a robot. */
export function Machine() {
  const [words, set_words] = useState("");
  const r = rehearsal.value;
  if (!r?.going) return null;
  const list = (shots.value?.sessions ?? []).flatMap((/** @type {any} */ s) => s.shots).filter((/** @type {any} */ s) => s.left_out_because === null);
  const marks = list.filter((/** @type {any} */ s) => s.miss).map((/** @type {any} */ s) => [s.miss.along_m, s.miss.across_m]);
  const busy = at_work.value || until.value !== "";
  const enough = r.thrown >= r.most;
  return html`<section class="log machine" aria-label="The hidden machine">
    <${Opening} marks=${marks} />
    <p class="did" aria-live="polite">${r.did || (r.thrown === 0 ? "Nothing thrown yet. Read what to do next, then throw." : "")} <span class="quiet">${r.thrown} of ${r.most} throws at most</span></p>
    ${r.leaves && !r.stop && html`<p class="quiet">${r.leaves}</p>`}
    ${r.stop
      ? html`${!r.truth && html`<button type="button" class="main log-it" disabled=${busy} onClick=${prove}>Prove it with 20 throws, then see the truth</button>`}
          <p class="acts"><a class="button" href="/pit">To the card</a>${r.truth && html`<button type="button" disabled=${busy} onClick=${prove}>Prove it once more</button>`}</p>`
      : enough
        ? html`<p><b>No sign to stop after ${r.most} throws.</b> See more of each shot, or take another machine. The truth can be looked at all the same:</p><button type="button" disabled=${busy} onClick=${prove}>Count 20 throws and show the truth</button>`
        : html`<button type="button" class="main log-it" disabled=${busy} onClick=${() => step()}>${r.knob ? "Move the knob, as it says" : "Throw one, as it says"}</button>
          <div class="acts broad">
            ${until.value
              ? html`<button type="button" onClick=${pause}>Pause</button>`
              : html`<button type="button" disabled=${busy} onClick=${() => run("advice")}>Throw until the next advice</button><button type="button" disabled=${busy} onClick=${() => run("stop")}>Throw until the stop sign</button>`}
          </div>
          <details><summary>Throw something else</summary><form class="acts" onSubmit=${(/** @type {any} */ e) => { e.preventDefault(); step(words); }}>
            <label>From where and how fast <input value=${words} required placeholder=${`${project.value.spots[0]?.name ?? "far"} 3400 rpm`} onInput=${(/** @type {any} */ e) => set_words(e.target.value)} /></label><button disabled=${busy}>Throw it</button></form></details>`}
    <${Truth} />
  </section>`;
}

function Truth() {
  const r = rehearsal.value;
  if (!r.truth) return at_work.value && r.stop ? html`<p class="quiet">counting…</p>` : null;
  const t = r.truth;
  const share = (/** @type {number | undefined} */ x) => say(x, "ratio");
  const rows = project.value.spots.map((/** @type {any} */ s, /** @type {number} */ i) => [s.name, share(t.untuned_hit_frac[i]), share(t.hit_frac[i]), share(t.by_hand_hit_frac[i]), share(t.by_hand_twice_hit_frac[i])]);
  return html`<section class="truth" aria-live="polite"><h2>The truth</h2><p>${r.proof?.says}</p><p>Counted from throws that nobody logged, after ${t.shots} shots as the page advised, and beside a careful person with the same eyes and as many shots, or twice as many:</p>
    <${Table} head=${["goes in from", "untuned", "as advised", "by hand", "by hand, twice the shots"]} rows=${rows} caption="What the hidden machine truly does" />
    ${t.secret.map((/** @type {string} */ s) => html`<p class="quiet">${s}</p>`)}</section>`;
}
