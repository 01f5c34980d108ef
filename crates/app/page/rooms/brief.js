// @ts-check
/** Brief: target and spots to scale, pieces, limits, verdicts. */
import { html } from "htm/preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { change, draft, parts, project, want } from "/lib/state.js";
import { say } from "/lib/say.js";
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

/** The field from the side: the opening, and the spots to drag along the floor. */
function Field() {
  const p = project.value;
  const svg = useRef(/** @type {SVGSVGElement | null} */ (null));
  const [width, set_width] = useState(900);
  useEffect(() => {
    const node = svg.current;
    if (!node) return;
    const watch = new ResizeObserver(() => set_width(Math.max(280, node.clientWidth)));
    watch.observe(node);
    return () => watch.disconnect();
  }, []);
  const target = { rim: value("target.rim_height"), depth: value("target.depth") * Math.cos(p.target.tilt_rad), rise: value("target.depth") * Math.sin(p.target.tilt_rad), back: value("target.back_wall") };
  const spots = p.spots.map((/** @type {any} */ s, /** @type {number} */ i) => ({ ...s, key: `spot[${i}].distance`, at: value(`spot[${i}].distance`) }));
  const far = Math.max(...spots.map((/** @type {any} */ s) => s.at), 1) * 1.18 + 0.3;
  const high = Math.max(target.rim + Math.max(target.back, target.rise) + 0.25, 0.9);
  const px = (width - 40) / (far + target.depth + 0.3);
  const x = (/** @type {number} */ m) => 20 + (far - m) * px;
  const floor = 20 + high * px;
  const y = (/** @type {number} */ m) => floor - m * px;
  const drag = (/** @type {PointerEvent} */ e, /** @type {string} */ key) => {
    const frame = svg.current;
    if (!frame) return;
    const node = /** @type {Element} */ (e.currentTarget);
    node.setPointerCapture(e.pointerId);
    const move = (/** @type {PointerEvent} */ m) => {
      const at = new DOMPoint(m.clientX, m.clientY).matrixTransform(frame.getScreenCTM()?.inverse());
      change(key, Math.max(0.2, Math.round((far - (at.x - 20) / px) * 100) / 100));
    };
    const end = () => {
      node.removeEventListener("pointermove", /** @type {any} */ (move));
      node.removeEventListener("pointerup", end);
    };
    node.addEventListener("pointermove", /** @type {any} */ (move));
    node.addEventListener("pointerup", end);
  };
  const step = (/** @type {KeyboardEvent} */ e, /** @type {any} */ s) => {
    const by = { ArrowLeft: 0.01, ArrowRight: -0.01, ArrowUp: 0.01, ArrowDown: -0.01, PageUp: 0.1, PageDown: -0.1 }[e.key];
    if (by === undefined) return;
    e.preventDefault();
    change(s.key, Math.max(0.2, Math.round((s.at + by) * 100) / 100));
  };
  const rim_end = [x(-target.depth), y(target.rim + target.rise)];
  return html`<figure class="picture field"><svg ref=${svg} viewBox=${`0 0 ${width} ${floor + 54}`} role="group" aria-label="The field from the side: drag the spots along the floor">
    <line class="ground" x1="0" x2=${width} y1=${floor} y2=${floor} />
    <path class="target" d=${`M${x(0)} ${floor}V${y(target.rim)}M${rim_end[0]} ${floor}V${rim_end[1] - target.back * px}`} />
    <path class="opening" d=${`M${x(0)} ${y(target.rim)}L${rim_end[0]} ${rim_end[1]}`} />
    <text x=${x(0) - 8} y=${y(target.rim) + 5} class="end">rim ${say(target.rim, "length")}</text>
    ${spots.map((/** @type {any} */ s) => html`<g class="spot" tabindex="0" role="slider" aria-label=${`distance of spot ${s.name}`} aria-valuenow=${s.at} aria-valuemin="0.2" aria-valuemax=${far} aria-valuetext=${say(s.at, "length")}
        onPointerDown=${(/** @type {any} */ e) => drag(e, s.key)} onKeyDown=${(/** @type {any} */ e) => step(e, s)}>
      <rect class="grip" x=${x(s.at) - 26} y=${floor - 46} width="52" height="92" />
      <path d=${`M${x(s.at)} ${floor}l-11-20h22Z`} />
      <line class="measure" x1=${x(s.at)} x2=${x(s.at)} y1=${floor} y2=${floor + 8} />
      <text x=${x(s.at)} y=${floor + 24}>${s.name}</text><text class="quiet" x=${x(s.at)} y=${floor + 42}>${say(s.at, "length")}</text>
    </g>`)}
  </svg><figcaption><span>Drag a spot, or choose it with Tab and move it with the arrow keys. Distances are from the wheel's axle to the near rim.</span> <button type="button" onClick=${add_spot}>+ spot</button></figcaption></figure>`;
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
  const SELDOM = ["target.centre_height", "piece.stiffness_exponent"];
  // On a phone the groups are closed to begin with: the page would be a yard long.
  const roomy = matchMedia("(min-width: 62rem)").matches;
  return html`
    <p class="lead">${project.value.words}</p>
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
