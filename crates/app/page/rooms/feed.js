// @ts-check
/** Feed: will the pieces queue, how fast, and what stops them wedging? */
import { html } from "htm/preact";
import { useEffect, useRef } from "preact/hooks";
import { project, want } from "/lib/state.js";
import { sentence } from "/lib/say.js";
import { apply, enter, leave, look, play, replay, room, stop } from "/lib/feed.js";
import { Picture, Table } from "/parts/picture.js";
import { Measure } from "/parts/measure.js";
import { Replay } from "/parts/replay.js";

/** A text with its `code` marked. @param {string} text */
const marked = (text) => text.split("`").map((part, i) => (i % 2 ? html`<code>${part}</code>` : part));

/** Of a row of the whole table the wait and how the loads stand then. @param {string[]} row */
const stood = (row) => [row[0], ...row.slice(5)];

function Running() {
  const r = room.value.running;
  if (!r) return null;
  const what = r.what === "loads" ? "Playing loads" : "Playing what might help";
  return html`<div class="running" role="group" aria-label=${what}>
    <label><b>${what}</b> <progress max=${Math.max(r.of, 1)} value=${r.done} aria-label=${what}></progress></label>
    <span>${r.stopping ? "stopping…" : r.says || "beginning…"}</span>
    <button type="button" disabled=${r.stopping} onClick=${stop}>Stop, and show what there is</button>
  </div>`;
}

function Answer() {
  const { survey: s, running, possible } = room.value;
  const busy = Boolean(running);
  return html`<section><h2>How often does somebody wait?</h2>
    ${s?.headline && html`<p class="headline" role="status">${sentence(s.headline)}.</p>`}
    ${s?.invalid && html`<p class="refused"><b>${s.invalid}</b></p>`}
    ${s && !s.current && html`<p class="refused"><b>The project was changed since.</b> What stands here is for the hopper as it was.</p>`}
    ${busy && !s && html`<p class="quiet">The loads are being played; the answer comes here. Nothing has to be waited for.</p>`}
    ${!busy && possible && html`<p class="acts"><button type="button" class=${s?.current ? "" : "main"} onClick=${() => play("loads")}>${s ? "Play the loads again" : "Play the loads"}</button></p>`}
    <${Change} />
    ${s?.waits_svg && html`<${Picture} name="waits" svg=${s.waits_svg} old=${!s.current} table=${{ head: s.heads, rows: s.rows }} />
      <h3>How the loads stand then</h3><${Table} head=${stood(s.heads)} rows=${s.rows.map(stood)} caption="How many loads stand how at each wait" /><p class="quiet lead">${marked(s.note)}</p>
      <ul class="plain">${s.lines.map((/** @type {string} */ l) => html`<li>${marked(l)}</li>`)}</ul>`}
  </section>`;
}

function Change() {
  const c = room.value.change;
  if (!c) return null;
  return html`<div class="answer changed-feed"><h3>Before and after: ${marked(c.did)}</h3><p>${c.says}</p>
    ${room.value.survey?.current && html`<p class="quiet">It stands in the project now; Undo at the top takes it out again.</p>`}</div>`;
}

/** The hopper in numbers, as the file has them. */
const hopper_table = () => ({ head: ["measure", "value"], rows: project.value.quantities.filter((/** @type {any} */ q) => q.table === "feed" || q.table.startsWith("feed.")).map((/** @type {any} */ q) => [q.key.replace("feed.", "").replaceAll(/[._]/g, " "), q.text]) });

function Faults() {
  const r = room.value;
  return html`<section><h2>The hopper${r.faults.length ? ", and what is doubtful about it" : ""}</h2>
    ${r.faults.length > 0 && html`<ul class="plain">${r.faults.map((/** @type {any} */ f) => html`<li><b>${f.impossible ? "Impossible" : "Doubtful"}:</b> ${marked(f.what)}. ${marked(sentence(f.fix))}. <code>${f.key}</code></li>`)}</ul>`}
    ${!r.possible && html`<p class="refused"><b>Nothing is played before what is impossible is mended.</b></p>`}
    <${Picture} name="hopper" svg=${r.hopper_svg} table=${hopper_table()} />
  </section>`;
}

function Remedies() {
  const { remedies: m, running, possible } = room.value;
  const busy = Boolean(running);
  return html`<section><h2>What would help?</h2>
    ${m?.says && html`<p class="lead">${m.says}.</p>`}
    ${m?.best && html`<p class="lead">${marked(m.best)}</p>`}
    ${m?.invalid && html`<p class="refused"><b>${m.invalid}</b></p>`}
    ${m && !m.current && html`<p class="refused"><b>The project was changed since.</b> Play them again before you take another.</p>`}
    ${possible && html`<p class="acts"><button type="button" class=${m?.current ? "" : "main"} disabled=${busy} onClick=${() => play("remedies")}>${m ? "Play the changes again" : "Play what might help"}</button></p>`}
    ${m?.rows && html`<div class="scroll" tabindex="0" role="region" aria-label="What would help, best first"><table class="remedies">
      <caption class="away">What would help, best first</caption>
      <thead><tr><th scope="col">${m.heads[0]}</th><th scope="col"><span class="away">into the project</span></th>${m.heads.slice(1).map((/** @type {string} */ h) => html`<th scope="col">${h}</th>`)}</tr></thead>
      <tbody>${m.rows.map((/** @type {string[]} */ row, /** @type {number} */ i) => html`<tr class=${row[4] === "helps" ? "helps-row" : ""}><th scope="row">${marked(row[0])}</th>
        <td><button type="button" disabled=${!m.current || busy} aria-label=${`Apply: ${row[0].replaceAll("`", "")}`} onClick=${() => apply(m.found.ranked[i].remedy)}>Apply</button></td>${row.slice(1).map((c) => html`<td>${c}</td>`)}</tr>`)}</tbody>
    </table></div><p class="quiet lead">${marked(m.note)} ${m.left}</p><p class="quiet lead">Apply writes the change into ${project.value.from === "demo" ? "this demo" : "the project file; remarks stay"}, and plays the same loads again.</p>`}
    ${!m && html`<p class="quiet">The usual changes are tried on the same loads: stirrer, bands, slope, funnel, chute, rails, roller, where pieces are dropped.</p>`}
  </section>`;
}

function Stuck() {
  const s = room.value.survey;
  if (!s?.stuck_svg) return null;
  const words = new DOMParser().parseFromString(s.stuck_svg, "image/svg+xml").querySelector("desc")?.textContent ?? "";
  return html`<section><h2>Where pieces get stuck</h2><${Picture} name="stuck" svg=${s.stuck_svg} old=${!s.current} table=${s.stuck_rows && { head: ["where", "a piece lies there, of 100 wedged loads"], rows: s.stuck_rows }} /><p class="lead">${words}</p></section>`;
}

export function Feed() {
  useEffect(() => {
    want([], false);
    enter();
    return leave;
  }, []);
  const seen = useRef(project.value.revision);
  useEffect(() => {
    if (seen.current === project.value.revision) return;
    seen.current = project.value.revision;
    // A load of another hopper is none of this one.
    replay.value = null;
    look();
  }, [project.value.revision]);
  const r = room.value;
  if (!r) return html`<p class="waiting" aria-busy="true">Looking at the hopper…</p>`;
  if (!r.described) return html`<p class="lead">${marked(r.says)}</p><pre class="sample">[feed]
length = "340 mm"
width = "300 mm"
chute_width = "120 mm"
slope = "12 deg"</pre><p>Write it into the file in the room <a href="/book">Book</a>.</p>`;
  return html`<p class="caution">${r.caution}</p>
    <${Running} />
    <div class="pair feed-pair"><${Answer} /><div><${Faults} /><${Stuck} /></div></div>
    <${Replay} />
    <${Remedies} />
    <${Measure} />`;
}
