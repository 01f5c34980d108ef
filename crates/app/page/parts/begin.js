// @ts-check
/** The guided start: a few questions in plain words, and a project file of one's own. */
import { html } from "htm/preact";
import { useState } from "preact/hooks";
import { begin, project, show_demo } from "/lib/state.js";
import { Refused } from "/lib/server.js";
import { go } from "/main.js";

/** Measures that are written into the fields to begin with, by system of units. @type {Record<string, Record<string, string>>} */
const FIRST = {
  metric: { rim_height: "1.2 m", width: "600 mm", depth: "400 mm", near: "1 m", middle: "2 m", far: "3 m", size: "500 mm", mass: "15 kg" },
  us: { rim_height: "4 ft", width: "24 in", depth: "16 in", near: "3 ft", middle: "6 ft", far: "10 ft", size: "20 in", mass: "33 lb" },
};
const WORDS = { foam: "Foam", hollow: "Hollow", perforated: "With holes", solid: "Solid rubber", box: "Open box", hoop: "Hoop", well: "Well" };

/** @param {{name: string, kinds: any[], chosen: string, choose: (kind: string) => void, legend: string}} p */
function Kinds({ name, kinds, chosen, choose, legend }) {
  return html`<fieldset class="kinds"><legend>${legend}</legend>${kinds.map((k) => html`<label><input type="radio" name=${name} value=${k.kind} checked=${k.kind === chosen} onChange=${() => choose(k.kind)} />
    <span><b>${WORDS[/** @type {keyof typeof WORDS} */ (k.kind)] ?? k.kind}</b> <small>${k.about}</small></span></label>`)}</fieldset>`;
}

export function Begin() {
  const p = project.value;
  const [units, set_units] = useState("metric");
  const [piece, set_piece] = useState("foam");
  const [target, set_target] = useState("box");
  const [spots, set_spots] = useState([{ name: "near", distance: "1 m" }, { name: "middle", distance: "2 m" }, { name: "far", distance: "3 m" }]);
  const [wrong, set_wrong] = useState(/** @type {any[]} */ ([]));
  const [place, set_place] = useState(p.may_begin_here ? "here" : "folder");
  const [is_busy, set_busy] = useState(false);
  if (p.from !== "demo") return null;
  const first = FIRST[units];
  const usual = p.kinds.pieces.find((/** @type {any} */ k) => k.kind === piece);
  const range = (/** @type {string} */ key) => {
    const r = usual?.rows.find((/** @type {any} */ r) => r.key === key);
    return r ? `${r.low_text} to ${r.high_text}` : "";
  };
  const turn_units = (/** @type {string} */ to) => {
    set_units(to);
    set_spots(spots.map((s) => ({ ...s, distance: Object.entries(FIRST[units]).find(([, v]) => v === s.distance)?.[0] ? FIRST[to][/** @type {any} */ (Object.entries(FIRST[units]).find(([, v]) => v === s.distance))[0]] : s.distance })));
  };
  const set_spot = (/** @type {number} */ i, /** @type {string} */ key, /** @type {string} */ text) => set_spots(spots.map((s, j) => (j === i ? { ...s, [key]: text } : s)));
  const about = (/** @type {string} */ key) => wrong.find((w) => w.key === key);
  const error = (/** @type {string} */ key) => (about(key) ? html`<span class="wrong" id=${`wrong-${key}`}>${about(key).what}. ${about(key).fix}</span>` : null);
  const field = (/** @type {string} */ key, /** @type {any} */ words, /** @type {string} */ value, more = {}) => html`<label>${words}
    <input name=${key} key=${`${key}-${units}`} defaultValue=${value} autocomplete="off" aria-invalid=${about(key) ? "true" : undefined} aria-describedby=${about(key) ? `wrong-${key}` : undefined} ...${more} />${error(key)}</label>`;
  const send = async (/** @type {any} */ e) => {
    e.preventDefault();
    const said = new FormData(e.target);
    const text = (/** @type {string} */ key) => said.get(key)?.toString().trim() ?? "";
    const answers = { units, piece, target, spots, wheels: Number(text("wheels")) };
    for (const key of ["name", "diameter", "mass", "rim_height", "width", "depth", "longest", "widest", "highest", "heaviest"]) Object.assign(answers, { [key]: text(key) });
    set_busy(true);
    try {
      await begin(answers, place === "here" ? undefined : text("folder"));
      go("/bench");
    } catch (refused) {
      if (!(refused instanceof Refused)) throw refused;
      set_wrong(refused.problems.length > 0 ? refused.problems : [{ key: "", what: "the program does not answer", fix: "start it again with arcwright" }]);
    } finally {
      set_busy(false);
    }
  };
  const known = ["diameter", "mass", "rim_height", "width", "depth", "longest", "widest", "highest", "heaviest", "folder"];
  const others = wrong.filter((w) => !known.includes(w.key) && !w.key.startsWith("spots["));
  return html`<section class="begin" id="begin"><h2>Begin a project of your own</h2>
    <p>A few answers make a project file with remarks, and a launcher to begin with. Everything can be changed later; a guess is better than no answer.
      Or look at a demo first: ${p.demos.map((/** @type {any} */ d) => html`<button type="button" aria-pressed=${d.name === p.at} title=${d.about} onClick=${() => show_demo(d.name)}>${d.name}</button> `)}</p>
    <form class="answers" onSubmit=${send}>
      <div class="line">${field("name", "What is it called?", "My thrower")}
        <fieldset class="pick"><legend>Units</legend>${["metric", "us"].map((u) => html`<label><input type="radio" name="units" checked=${u === units} onChange=${() => turn_units(u)} /><span>${u === "us" ? "inches, pounds" : "metres, kilograms"}</span></label>`)}</fieldset></div>
      <${Kinds} name="piece" legend="What is thrown?" kinds=${p.kinds.pieces} chosen=${piece} choose=${set_piece} />
      <div class="line">${field("diameter", html`Its diameter <small>usual: ${range("piece.diameter")}</small>`, "", { placeholder: usual?.rows[0].text })}
        ${field("mass", html`Its mass <small>usual: ${range("piece.mass")}</small>`, "", { placeholder: usual?.rows[1].text })}</div>
      <${Kinds} name="target" legend="Into what?" kinds=${p.kinds.targets} chosen=${target} choose=${set_target} />
      <div class="line">${field("rim_height", target === "hoop" ? "How high is its lowest point?" : "How high is the rim?", first.rim_height)}
        ${field("width", target === "box" ? "How wide is the opening?" : "How wide is it inside?", first.width)}
        ${target === "box" && field("depth", "How deep, seen from the robot?", first.depth)}</div>
      <fieldset class="places"><legend>From where? <small>distance from below the wheel's axle to the near rim</small></legend>
        ${spots.map((s, i) => html`<div class="line"><label>Name <input value=${s.name} onInput=${(/** @type {any} */ e) => set_spot(i, "name", e.target.value)} required /></label>
          <label>Distance <input value=${s.distance} onInput=${(/** @type {any} */ e) => set_spot(i, "distance", e.target.value)} required />${error(`spots[${i}].distance`)}</label>
          <button type="button" disabled=${spots.length === 1} aria-label=${`Take out spot ${s.name}`} onClick=${() => set_spots(spots.filter((_, j) => j !== i))}>Take out</button></div>`)}
        <button type="button" onClick=${() => set_spots([...spots, { name: `spot ${spots.length + 1}`, distance: spots.at(-1)?.distance ?? first.far }])}>+ spot</button>
      </fieldset>
      <fieldset class="kinds two-only"><legend>How is it thrown?</legend>
        <label><input type="radio" name="wheels" value="1" checked /><span><b>One wheel</b> <small>rolls the piece along a curved guide: more spin, one motor</small></span></label>
        <label><input type="radio" name="wheels" value="2" /><span><b>Two wheels</b> <small>throw it straight out between them: faster, two motors</small></span></label></fieldset>
      <fieldset class="places"><legend>How large may the robot be? <small>leave empty what your rules do not limit</small></legend>
        <div class="line">${field("longest", "Length", "", { placeholder: first.size })}${field("widest", "Width", "", { placeholder: first.size })}${field("highest", "Height", "", { placeholder: first.size })}${field("heaviest", "Mass", "", { placeholder: first.mass })}</div></fieldset>
      <fieldset class="places"><legend>Where is the file kept?</legend>
        ${p.may_begin_here && html`<label class="one"><input type="radio" name="place" checked=${place === "here"} onChange=${() => set_place("here")} /> in the folder in which the program was started</label>`}
        <label class="one"><input type="radio" name="place" checked=${place !== "here"} onChange=${() => set_place("folder")} /> in a new folder below it</label>
        ${place !== "here" && field("folder", "Name of the folder", "my-thrower", { required: true })}</fieldset>
      ${others.length > 0 && html`<div class="trouble" role="alert">${others.map((w) => html`<p><b>${w.what}.</b> ${w.fix}</p>`)}</div>`}
      ${wrong.length > others.length && html`<p role="alert" class="wrong">Some answers need another look, see above.</p>`}
      <p class="caution">Spinning wheels and thrown balls hurt: eye protection, a clear lane, nobody in line with the wheel. Local rules, those of your event, and the adults in charge come first.</p>
      <button class="main" disabled=${is_busy}>${is_busy ? "Making it…" : "Make the project"}</button>
    </form></section>`;
}
