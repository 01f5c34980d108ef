// @ts-check
/** Frame: the rest of the machine, and what to improve next. */
import { html } from "htm/preact";
import { signal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { line } from "/lib/server.js";
import { draft, edit, parts, project, want } from "/lib/state.js";
import { say } from "/lib/say.js";
import { Choice, choices, named } from "/parts/choice.js";
import { More } from "/parts/kinds.js";
import { Picture, Table } from "/parts/picture.js";
import { Group } from "/parts/quantity.js";
import { Season } from "/parts/season.js";
import { Sign } from "/parts/sign.js";
import { told } from "/parts/told.js";
import { verdict_row, worst_first } from "/parts/verdicts.js";

/** Which checks stand in which section. */
const SECTIONS = /** @type {Record<string, string[]>} */ ({
  drive: ["push", "turn", "tip-over"],
  power: ["breaker", "frame-brown-out", "charge", "wires"],
  rotating: ["shaft-speed", "shaft-bend", "support", "rim-stress"],
  links: ["links"],
  sheet: ["guide-give"],
  parts: ["parts-fit", "hold"],
});

/** Verdicts of a section, what does not hold first. @param {{of: string}} p */
function Judged({ of }) {
  const all = parts.value.frame?.verdicts.filter((/** @type {any} */ v) => SECTIONS[of].includes(v.check)) ?? [];
  return html`<div class="verdicts"><ul>${worst_first(all).map(verdict_row)}</ul></div>`;
}

/** Tables come with usual values; what is yours is written over them. @param {string[]} tables */
const add = (tables) => edit(tables.map((table) => ({ act: "table", table })));

/** What the file does not describe. @param {{table: string, what: string}} p */
function Missing({ table, what }) {
  if (project.value.quantities.some((/** @type {any} */ q) => q.table === table)) return null;
  return html`<p class="quiet">The file says nothing of ${what}. <button type="button" onClick=${() => add([table])}>Add it with usual values</button> and write yours over them.</p>`;
}

/** Sentences about something. @param {{about: string}} p */
function Says({ about }) {
  const all = parts.value.frame?.figures.filter((/** @type {any} */ f) => f.about === about) ?? [];
  return all.map((/** @type {any} */ f) => html`<p>${told(f.says)}.</p>`);
}

const BASES = ["four", "six", "sideways"];
/** The other base: its word, empty for none, and its motors. */
const other = signal({ base: "", motors: 4 });
/** @type {import("@preact/signals").Signal<Record<string, any>>} */
const beside = signal({});
const ask_beside = line(
  "beside",
  (found) => (beside.value = found),
  () => (beside.value = {}),
);

function Drive() {
  const f = parts.value.frame;
  const { base, motors } = other.value;
  const wishes = JSON.stringify(draft.value);
  useEffect(() => {
    if (base === "") beside.value = {};
    else ask_beside({ want: ["frame", "picture.base"], base, base_motors: motors, unsearched: true, changes: Object.entries(draft.value).map(([key, value]) => ({ key, value })) });
  }, [base, motors, wishes, project.value.revision]);
  const both = base === "" ? null : beside.value.frame;
  const table = both?.table ?? f.table;
  return html`<section id="drive"><h2>Drive base</h2>
    <${Judged} of="drive" />
    <div class="compare"><fieldset class="pick"><legend>Beside it</legend>${["", ...BASES].map((b) => html`<label><input type="radio" name="other-base" checked=${base === b} onChange=${() => (other.value = { ...other.value, base: b })} /><span>${b === "" ? "none" : b === "four" ? "four wheels" : b === "six" ? "six wheels" : "sideways"}</span></label>`)}</fieldset>
      ${base !== "" && html`<label class="choice"><span>motors of the other base</span><select value=${motors} onChange=${(/** @type {any} */ e) => (other.value = { base, motors: Number(e.target.value) })}>${[2, 4, 6, 8].map((n) => html`<option value=${n} selected=${n === motors}>${n}</option>`)}</select></label>`}</div>
    ${both?.buys && html`<p class="lead">${told(both.buys)}</p>`}
    <${Picture} name="base" svg=${base === "" ? parts.value["picture.base"] : (beside.value["picture.base"] ?? parts.value["picture.base"])} table=${table && { head: table.head, rows: table.rows }} />
    ${table && html`<${Table} head=${table.head} rows=${table.rows} caption="Drive bases in figures" /><p class="quiet">${table.note}</p>`}
  </section>`;
}

function Power() {
  const p = parts.value.frame.power;
  return html`<section id="power"><h2>Power</h2>
    <${Missing} table="frame.power" what="breaker, battery and match" />
    ${p && html`<div class="chances">
      <div class="chance"><b>everything at once</b> <span class="big">${say(p.at_once_v, "voltage")}</span> <span class="quiet">at ${say(p.at_once_a, "current")}</span></div>
      <div class="chance"><b>browns out</b> <span class="big">${chance(p.brown_out.frac)}</span> <span class="quiet">of matches (${chance(p.brown_out.low_frac)} to ${chance(p.brown_out.high_frac)})</span></div>
      <div class="chance"><b>breaker trips</b> <span class="big">${chance(p.breaker_trips_frac)}</span> <span class="quiet">of matches</span></div>
      ${p.matches !== null && html`<div class="chance"><b>a charge lasts</b> <span class="big">${p.matches.toFixed(1)}</span> <span class="quiet">matches</span></div>`}
    </div>`}
    <${Judged} of="power" /><${Says} about="power" /></section>`;
}

/** A chance to a tenth of a per cent, never rounded to none or all. @param {number} frac */
const chance = (frac) => (frac < 0.0005 ? "under 0.1 %" : frac > 0.9995 ? "over 99.9 %" : `${(100 * frac).toFixed(1)} %`);

function Rotating() {
  const f = parts.value.frame;
  const support = choices("frame.shaft").find((/** @type {any} */ c) => c.name === "support");
  return html`<section id="rotating"><h2>Rotating parts</h2>
    <${Missing} table="frame.shaft" what="the wheel's shaft" />
    ${support && html`<div class="compare"><${Choice} c=${support} name="the wheel's shaft runs in" />${choices("frame.shaft").filter((/** @type {any} */ c) => c.name === "bushing").map((/** @type {any} */ c) => html`<${Choice} key=${c.key} c=${c} />`)}</div>`}
    <${Judged} of="rotating" /><${Says} about="shaft" /><${Says} about="rim" />
    <div class="caution"><b>Guards and cautions</b><ul>${f.cautions.map((/** @type {string} */ c) => html`<li>${c}</li>`)}</ul><p>${f.defers}</p></div></section>`;
}

function Sheet() {
  const f = parts.value.frame;
  if (!f.guide) return html`<section id="sheet"><h2>Guide sheet</h2><p class="quiet">Nothing to reckon with: it takes a guide with <code>[launcher.sheet]</code>, <code>guide_ribs</code> under <code>[frame]</code>, and a spot that can be thrown from.</p></section>`;
  const t = f.guide.table;
  return html`<section id="sheet"><h2>Guide sheet</h2><${Judged} of="sheet" /><${Says} about="guide" />
    ${t && html`<div class="narrow"><${Table} head=${t.head} rows=${t.rows} caption="Sheet materials by the same numbers" /></div><p class="quiet">${t.note}</p>`}</section>`;
}

function Parts() {
  return html`<section id="parts"><h2>Mass and size</h2><${Missing} table="frame.part[]" what="parts with their mass and place" /><${Judged} of="parts" /><${Says} about="parts" />
    <${Picture} name="parts" svg=${parts.value["picture.parts"]} table=${part_rows()} /></section>`;
}

function part_rows() {
  const f = parts.value.frame;
  if (!f?.parts?.length) return undefined;
  const three = (/** @type {number[]} */ v) => v.map((x) => say(x, "length")).join(" × ");
  return {
    head: ["part", "mass", "middle: ahead × left × up", "size", "inside the outline by"],
    rows: f.parts.map((/** @type {any} */ p) => [p.name, say(p.mass_kg, "mass"), three(p.at_m), three(p.size_m), say(p.inside_m, "length")]),
  };
}

/** The words and numbers of a table. @param {{title: string, table: string, open?: boolean, index?: number | null, children?: any}} p */
function Fields({ title, table, open = false, index = null, children }) {
  const keys = project.value.quantities.filter((/** @type {any} */ q) => q.table === table && q.index === index);
  const words = choices(table, index);
  if (!keys.length && !words.length) return null;
  return html`<${Group} title=${title} open=${open} keys=${keys}>${words.map((/** @type {any} */ c) => html`<${Choice} key=${c.key} c=${c} />`)}${children}</${Group}>`;
}

/** All of a list, each in a group of its own. @param {{table: string, what: string}} p */
function Each({ table, what }) {
  const count = project.value.choices.filter((/** @type {any} */ c) => c.table === table && c.name === "name").length;
  return Array.from({ length: count }, (_, i) => html`<${Fields} key=${i} title=${`${what}: ${named(table, i)}`} table=${table} index=${i} />`);
}

function Panel() {
  const roomy = matchMedia("(min-width: 62rem)").matches;
  return html`<aside class="panel" aria-label="The frame and the season in numbers">
    <${Fields} title="Drive base" table="frame" open=${roomy}><${More} table="frame" words="One more line:" /></${Fields}>
    <${Fields} title="Drive motor" table="frame.motor" />
    <${Fields} title="Wheel shaft" table="frame.shaft" open=${roomy} />
    <${Fields} title="Power" table="frame.power" open=${roomy}><${More} table="frame.power" words="One more line:" /></${Fields}>
    <${Each} table="frame.wire[]" what="Wire" /><${Each} table="frame.link[]" what="Link" /><${Each} table="frame.part[]" what="Part" />
    <p><button type="button" onClick=${() => add(["frame.part[]"])}>+ part</button> <button type="button" onClick=${() => add(["frame.wire[]"])}>+ wire</button> <button type="button" onClick=${() => add(["frame.link[]"])}>+ link</button></p>
    <${Fields} title="Season: scoring and times" table="season" open=${roomy}><${More} table="season" words="One more line:" /></${Fields}>
    <${Each} table="season.change[]" what="Change" />
    ${choices("season").length > 0 && html`<p><button type="button" onClick=${() => add(["season.change[]"])}>+ change</button></p>`}
  </aside>`;
}

const HERE = [["drive", "Drive base"], ["power", "Power"], ["rotating", "Rotating parts"], ["links", "Transmission"], ["parts", "Mass and size"], ["sheet", "Guide sheet"], ["season", "What next?"]];

export function Frame() {
  useEffect(() => want(["frame", "picture.base", "picture.parts"], false), []);
  const f = parts.value.frame;
  if (f === undefined) return html`<p class="waiting">working…</p>`;
  if (f === null || f.refused) {
    return html`<p class="lead">This project says nothing of its frame yet: no drive base, power, shaft or parts.</p>
      <p><button type="button" class="main" onClick=${() => add(["frame", "frame.motor"])}>Add a drive base with usual values</button> and write yours over them, here or in room <a href="/book">Book</a>. The demo <code>lantern</code> shows every table filled in.</p>
      ${choices("season").length > 0 && html`<${Season} />`}`;
  }
  const bad = f.verdicts.filter((/** @type {any} */ v) => v.status === "fails");
  return html`
    <nav class="here" aria-label="In this room">${HERE.map(([id, name]) => html`<a href=${`/frame#${id}`}>${name}</a>`)}</nav>
    <div class="two frame"><div>
      ${bad.length > 0 ? html`<ul class="fails">${bad.map((/** @type {any} */ v) => html`<li><${Sign} status="fails" /> <b>${v.check}${v.subject ? `: ${v.subject}` : ""}</b> ${told(v.why)}${v.mend && html`<br /><b>To mend it:</b> ${told(v.mend)}`}</li>`)}</ul>` : html`<p class="lead"><${Sign} status="holds" /> None of the ${f.verdicts.length} checks of the frame fails.</p>`}
      <${Drive} /><${Power} /><${Rotating} />
      <section id="links"><h2>Transmission</h2><${Missing} table="frame.link[]" what="chains, belts and gears" /><${Judged} of="links" /></section>
      <${Parts} /><${Sheet} />
      ${choices("season").length > 0 ? html`<${Season} />` : html`<section id="season"><h2>What next? A season of matches</h2><${Missing} table="season" what="how a match goes and what it pays" /></section>`}
    </div><${Panel} /></div>`;
}
