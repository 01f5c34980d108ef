// @ts-check
/** Brief: target and spots to scale, pieces, limits, verdicts. */
import { html } from "htm/preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { change, draft, parts, project, want } from "/lib/state.js";
import { say, sentence } from "/lib/say.js";
import { Picture } from "/parts/picture.js";
import { Begin } from "/parts/begin.js";
import { More, PieceKind, TargetKind } from "/parts/kinds.js";
import { Spots, add_spot } from "/parts/spots.js";
import { Group } from "/parts/quantity.js";
import { Verdicts } from "/parts/verdicts.js";

/** @param {string} key */
function value(key) {
  const q = project.value.quantities.find((/** @type {any} */ q) => q.key === key);
  return draft.value[key] ?? q?.value ?? 0;
}

/** What moves with the arrow keys: metres by key, downwards negative. @type {Record<string, number>} */
const STEPS_M = { ArrowLeft: 0.01, ArrowRight: -0.01, ArrowUp: 0.01, ArrowDown: -0.01, PageUp: 0.1, PageDown: -0.1 };
/** To a whole centimetre, and no nearer to nothing than that. @param {number} m @param {number} least_m */
const whole_cm = (m, least_m) => Math.max(least_m, Math.round(m * 100) / 100);

/** Does the file give the height of the opening's middle, in place of that of its lowest point? */
const by_centre = () => /^\s*(target\.)?centre_height\s*=/m.test(project.value.text);

/** Letters of a spot's name that there is room for. */
const NAME_COUNT = 16;
/** The spots with a place for each name: lower where it would lie on its neighbour's. @param {any[]} spots @param {number} width */
function labels(spots, width) {
  const ends = /** @type {number[]} */ ([]);
  const out = new Map();
  for (const s of [...spots].sort((a, b) => a.x - b.x)) {
    const short = s.name.length > NAME_COUNT ? `${s.name.slice(0, NAME_COUNT - 1)}…` : s.name;
    const half = 4.4 * Math.max(short.length, say(s.at, "length").length) + 5;
    const middle = Math.min(width - half, Math.max(half, s.x));
    let row = ends.findIndex((end) => end <= middle - half);
    if (row < 0) row = ends.length;
    ends[row] = middle + half;
    out.set(s.key, { ...s, short, middle, down: 40 * row });
  }
  return spots.map((s) => out.get(s.key));
}

/** The field from the side: the opening and the spots, to scale and to drag. */
function Field() {
  const p = project.value;
  const svg = useRef(/** @type {SVGSVGElement | null} */ (null));
  const [width, set_width] = useState(900);
  // While something is dragged the scale stays, or the picture would move away under the hand.
  const [held, set_held] = useState(/** @type {{far: number, high: number, along: number} | null} */ (null));
  useEffect(() => {
    const node = svg.current;
    if (!node) return;
    const watch = new ResizeObserver(() => set_width(Math.max(280, node.clientWidth)));
    watch.observe(node);
    return () => watch.disconnect();
  }, []);
  // A circle is as deep as it is wide.
  const deep = p.target.round && p.target.depth_m === p.target.width_m ? "target.width" : "target.depth";
  const [along, up] = [Math.cos(p.target.tilt_rad), Math.sin(p.target.tilt_rad)];
  const rise = value(deep) * up;
  const centre = by_centre();
  const target = { rim: centre ? value("target.centre_height") - rise / 2 : value("target.rim_height"), size: value(deep), depth: value(deep) * along, rise, back: value("target.back_wall") };
  const spots = p.spots.map((/** @type {any} */ s, /** @type {number} */ i) => ({ ...s, key: `spot[${i}].distance`, at: value(`spot[${i}].distance`) }));
  const far = held?.far ?? Math.max(...spots.map((/** @type {any} */ s) => s.at), 1) * 1.18 + 0.3;
  const high = held?.high ?? Math.max(target.rim + Math.max(target.back, target.rise) + 0.25, 0.9);
  const behind = held?.along ?? target.depth;
  const px = (width - 40) / (far + behind + 0.3);
  const x = (/** @type {number} */ m) => 20 + (far - m) * px;
  const floor = 20 + high * px;
  const y = (/** @type {number} */ m) => floor - m * px;
  /** @param {PointerEvent} e @param {(along_m: number, up_m: number) => void} to by how much it was moved, away from the target and up */
  const drag = (e, to) => {
    const frame = svg.current;
    if (!frame) return;
    const node = /** @type {Element} */ (e.currentTarget);
    node.setPointerCapture(e.pointerId);
    set_held({ far, high, along: behind });
    const at = (/** @type {any} */ m) => new DOMPoint(m.clientX, m.clientY).matrixTransform(frame.getScreenCTM()?.inverse());
    const from = at(e);
    const move = (/** @type {any} */ m) => to((from.x - at(m).x) / px, (from.y - at(m).y) / px);
    const end = () => {
      node.removeEventListener("pointermove", move);
      for (const how of ["pointerup", "pointercancel"]) node.removeEventListener(how, end);
      set_held(null);
    };
    node.addEventListener("pointermove", move);
    for (const how of ["pointerup", "pointercancel"]) node.addEventListener(how, end);
  };
  const labelled = labels(spots.map((/** @type {any} */ s) => ({ ...s, x: x(s.at) })), width);
  const deepest = Math.max(...labelled.map((s) => s.down));
  const rim_end = [x(-target.depth), y(target.rim + target.rise)];
  const grip = Math.min(22, Math.max(12, (target.size * px) / 2));
  const handles = [
    { key: centre ? "target.centre_height" : "target.rim_height", name: centre ? "height of the opening's middle" : "height of the rim", at: centre ? [x(-target.depth / 2), y(target.rim + rise / 2)] : [x(0), y(target.rim)], now: target.rim + (centre ? rise / 2 : 0), least: 0.05, from: (/** @type {number} */ _, /** @type {number} */ m) => m },
    { key: deep, name: p.target.round ? "size of the opening" : "depth of the opening", at: rim_end, now: target.size, least: 0.05, from: (/** @type {number} */ a, /** @type {number} */ m) => m * up - a * along },
  ];
  const slider = (/** @type {string} */ name, /** @type {string} */ key, /** @type {number} */ now, /** @type {number} */ least) => ({
    tabindex: "0", role: "slider", "aria-label": name, "aria-valuenow": now, "aria-valuemin": least, "aria-valuemax": Math.max(far, now), "aria-valuetext": say(now, "length"),
    onKeyDown: (/** @type {KeyboardEvent} */ e) => {
      const by = STEPS_M[e.key];
      if (by === undefined) return;
      e.preventDefault();
      change(key, whole_cm(now + by, least));
    },
  });
  return html`<figure class="picture field"><svg ref=${svg} viewBox=${`0 0 ${width} ${floor + 54 + deepest}`} role="group" aria-label="The field from the side: drag the spots along the floor, and the rim and the far edge of the opening">
    <line class="ground" x1="0" x2=${width} y1=${floor} y2=${floor} />
    <path class="target" d=${`M${x(0)} ${floor}V${y(target.rim)}M${rim_end[0]} ${floor}V${rim_end[1] - target.back * px}`} />
    <path class="opening" d=${`M${x(0)} ${y(target.rim)}L${rim_end[0]} ${rim_end[1]}`} />
    <text x=${x(0) - 14} y=${y(target.rim) + 5} class="end">rim ${say(target.rim, "length")}</text>
    <text x=${rim_end[0] + 16} y=${rim_end[1] - target.back * px - 14} class="end quiet">${p.target.round ? "across" : "deep"} ${say(target.size, "length")}</text>
    ${labelled.map((/** @type {any} */ s) => html`<g class="spot" ...${slider(`distance of spot ${s.name}`, s.key, s.at, 0.2)}
        onPointerDown=${(/** @type {any} */ e) => drag(e, (a) => change(s.key, Math.min(far, whole_cm(s.at + a, 0.2))))}>
      <rect class="grip" x=${x(s.at) - 26} y=${floor - 46} width="52" height=${92 + s.down} />
      <path d=${`M${x(s.at)} ${floor}l-11-20h22Z`} />
      <line class="measure" x1=${x(s.at)} x2=${x(s.at)} y1=${floor} y2=${floor + 8 + s.down} />
      <text x=${s.middle} y=${floor + 24 + s.down}>${s.short}</text><text class="quiet" x=${s.middle} y=${floor + 42 + s.down}>${say(s.at, "length")}</text>
      <title>${s.name}: ${say(s.at, "length")}</title>
    </g>`)}
    ${handles.map((h) => html`<g class="handle" ...${slider(h.name, h.key, h.now, h.least)} onPointerDown=${(/** @type {any} */ e) => drag(e, (a, m) => change(h.key, whole_cm(h.now + h.from(a, m), h.least)))}>
      <circle class="grip" cx=${h.at[0]} cy=${h.at[1]} r=${grip} /><circle class="knob" cx=${h.at[0]} cy=${h.at[1]} r="7" /><title>${h.name}: ${say(h.now, "length")}</title></g>`)}
  </svg><figcaption><span>Drag a spot, the rim or the far edge of the opening, or choose it with Tab and move it with the arrow keys. Distances are from the wheel's axle to the near rim.</span> <button type="button" onClick=${add_spot}>+ spot</button></figcaption></figure>`;
}

/** What each spot asks of any launcher. */
function Asked() {
  const spots = parts.value.needed;
  const rows = (spots ?? []).flatMap((/** @type {any} */ s) => s.exits.filter((/** @type {any} */ e) => e.serves).map((/** @type {any} */ e) => [s.spot, say(e.angle_rad, "angle"), say(e.speed_mps, "speed"), `${say(e.lowest_mps, "speed")} to ${say(e.highest_mps, "speed")}`, say(e.entry_rad, "angle"), say(e.clearance_m, "length")]));
  return html`<section><h2>What the spots ask of any launcher</h2>
    <p class="quiet">Before a machine is chosen: which speed goes in at which exit angle, without spin, from the height of the axle. A wide band forgives more.</p>
    <${Picture} name="needed" svg=${parts.value["picture.needed"]} table=${{ head: ["spot", "angle", "speed", "goes in from", "entry", "clearance"], rows }} /></section>`;
}

export function Brief() {
  useEffect(() => want(["needed", "picture.needed"], false), []);
  const q = (/** @type {(key: string) => boolean} */ test) => project.value.quantities.filter((/** @type {any} */ q) => test(q.key));
  const SELDOM = [by_centre() ? "target.rim_height" : "target.centre_height", "piece.stiffness_exponent"];
  // On a phone the groups are closed to begin with: the page would be a yard long.
  const roomy = matchMedia("(min-width: 62rem)").matches;
  return html`
    <p class="lead">${sentence(project.value.words)}.</p>
    <div class="two">
      <div><${Field} /><${Asked} /><${Verdicts} /></div>
      <aside class="panel" aria-label="The brief in numbers">
        <${Group} title="Piece" open=${roomy} keys=${q((k) => k.startsWith("piece.") && !SELDOM.includes(k))}><${PieceKind} key=${project.value.kinds.piece} /></${Group}>
        <${Group} title="Target" open=${roomy} keys=${q((k) => k.startsWith("target.") && !SELDOM.includes(k))}><${TargetKind} /><${More} table="target" words="One more line:" /></${Group}>
        <${Spots} open=${roomy} />
        <${Group} title="Limits" open=${roomy} keys=${q((k) => k.startsWith("limits."))}><${More} table="limits" words="One more limit:" /></${Group}>
        <${Group} title="Robot" keys=${q((k) => k.startsWith("robot."))} />
        <${Group} title="Air" keys=${q((k) => k.startsWith("air."))} />
      </aside>
    </div>
    <${Begin} />`;
}
