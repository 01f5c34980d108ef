// @ts-check
/** The opening of the target, to tap where a piece passed, or to see where pieces did. */
import { html } from "htm/preact";
import { useRef } from "preact/hooks";
import { project } from "/lib/state.js";

/**
 * The opening from above (or from the front where it stands upright).
 * @param {{at?: [number, number] | null, set?: (at: [number, number] | null) => void, marks?: [number, number][]}} p
 */
export function Opening({ at = null, set, marks = [] }) {
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
    set?.([(H / 2 - p.y) / px, (W / 2 - p.x) / px]);
  };
  const key = (/** @type {KeyboardEvent} */ e) => {
    const by = { ArrowUp: [0.02, 0], ArrowDown: [-0.02, 0], ArrowLeft: [0, 0.02], ArrowRight: [0, -0.02] }[e.key];
    if (!by) return;
    e.preventDefault();
    set?.([(at?.[0] ?? 0) + by[0], (at?.[1] ?? 0) + by[1]]);
  };
  const hole = t.round ? html`<ellipse class="hole" cx=${W / 2} cy=${H / 2} rx=${(w / 2) * px} ry=${(d / 2) * px} />` : html`<rect class="hole" x=${x(w / 2)} y=${y(d / 2)} width=${w * px} height=${d * px} />`;
  const inside = (/** @type {number} */ v, /** @type {number} */ most) => Math.min(most - 12, Math.max(12, v));
  const last = marks.length - 1;
  const drawn = html`${hole}<path class="cross" d=${`M${W / 2} ${H / 2 - 12}v24M${W / 2 - 12} ${H / 2}h24`} />
    <text x=${W / 2} y="27">long</text><text x=${W / 2} y=${H - 10}>short</text><text x="30" y=${H / 2}>left</text><text x=${W - 32} y=${H / 2}>right</text>
    ${marks.map((m, i) => html`<circle class=${`was ${i === last ? "last" : ""}`} cx=${inside(x(m[1]), W)} cy=${inside(y(m[0]), H)} r=${i === last ? 11 : 7} />`)}
    ${at && html`<g class="mark"><circle cx=${x(at[1])} cy=${y(at[0])} r="13" /><circle class="dot" cx=${x(at[1])} cy=${y(at[0])} r="4" /></g>`}`;
  if (!set) return html`<svg class="opening seen" viewBox=${`0 0 ${W} ${H}`} role="img" aria-label=${marks.length ? `Where ${marks.length} pieces passed the opening; the last: ${words_of(marks[last])}` : "The opening; nothing passed yet"}>${drawn}</svg>`;
  return html`<svg ref=${svg} class="opening" viewBox=${`0 0 ${W} ${H}`} tabindex="0" role="application" aria-label=${`The opening: tap where the piece passed, or move the mark with the arrow keys. ${at ? words_of(at) : "No mark yet"}`} onPointerDown=${tap} onKeyDown=${key}>${drawn}</svg>`;
}

/** A place on the opening in the words of a log. @param {[number, number]} at */
export function words_of([along, across]) {
  const cm = (/** @type {number} */ m) => `${Math.round(Math.abs(m) * 100)}cm`;
  const parts = [];
  if (Math.abs(along) >= 0.005) parts.push(`${along > 0 ? "long" : "short"} ${cm(along)}`);
  if (Math.abs(across) >= 0.005) parts.push(`${across > 0 ? "left" : "right"} ${cm(across)}`);
  const t = project.value.target;
  const inside = t.round ? (along / (t.depth_m / 2)) ** 2 + (across / (t.width_m / 2)) ** 2 < 1 : Math.abs(along) < t.depth_m / 2 && Math.abs(across) < t.width_m / 2;
  if (!parts.length) return "in";
  return `${parts.join(" ")}${inside ? " in" : ""}`;
}
