// @ts-check
/** The launcher's picture with handles to drag and the passage moment by moment. */
import { html } from "htm/preact";
import { useRef, useState } from "preact/hooks";
import { change, draft, parts, quantity } from "/lib/state.js";
import { say } from "/lib/say.js";
import { say as say_quantity } from "/parts/quantity.js";
import { Picture } from "/parts/picture.js";

/**
 * The value that a handle has been dragged to, on a step that exists.
 * @param {any} q @param {number} value SI
 */
function settled(q, value) {
  if (q.choices.length) return q.choices.reduce((/** @type {number} */ a, /** @type {number} */ b) => (Math.abs(b - value) < Math.abs(a - value) ? b : a));
  const held = Math.min(q.high, Math.max(q.low, value));
  return q.step ? Math.round(held / q.step) * q.step : held;
}

/** @param {{h: any, frame: any}} p */
function Handle({ h, frame }) {
  const q = quantity(h.key);
  if (!q) return null;
  const now = draft.value[h.key] ?? q.value;
  const name = h.key.replace(/^.*\./, "");
  const down = (/** @type {PointerEvent} */ e) => {
    const svg = frame.current;
    const inverse = svg?.getScreenCTM()?.inverse();
    if (!inverse) return;
    e.preventDefault();
    const node = /** @type {Element} */ (e.currentTarget);
    node.setPointerCapture(e.pointerId);
    const at = (/** @type {PointerEvent} */ m) => new DOMPoint(m.clientX, m.clientY).matrixTransform(inverse);
    const from = at(e);
    const [ux, uy] = h.per_unit;
    const per = ux * ux + uy * uy;
    const move = (/** @type {any} */ m) => {
      const p = at(m);
      change(h.key, settled(q, now + ((p.x - from.x) * ux + (p.y - from.y) * uy) / per));
    };
    const up = () => {
      node.removeEventListener("pointermove", move);
      node.removeEventListener("pointerup", up);
      node.removeEventListener("pointercancel", up);
    };
    node.addEventListener("pointermove", move);
    node.addEventListener("pointerup", up);
    node.addEventListener("pointercancel", up);
  };
  const key = (/** @type {KeyboardEvent} */ e) => {
    const way = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 5, PageDown: -5 }[e.key];
    if (way === undefined) return;
    e.preventDefault();
    if (q.choices.length) {
      const at = q.choices.indexOf(settled(q, now)) + Math.sign(way);
      if (at >= 0 && at < q.choices.length) change(h.key, q.choices[at]);
    } else change(h.key, settled(q, now + way * (q.step || (q.high - q.low) / 100)));
  };
  return html`<g class="handle" tabindex="0" role="slider" data-key=${h.key} aria-label=${h.key.replaceAll(".", " ")} aria-valuenow=${now} aria-valuemin=${q.low} aria-valuemax=${q.high} aria-valuetext=${say_quantity(q, now)} onPointerDown=${down} onKeyDown=${key}>
    <circle class="grip" cx=${h.at[0]} cy=${h.at[1]} r="16" /><circle class="knob" cx=${h.at[0]} cy=${h.at[1]} r="7" />
    <title>${name}: ${say_quantity(q, now)}</title>
  </g>`;
}

/** The passage in numbers. @param {any} hold */
export function passage(hold) {
  const rows = hold?.moments?.map((/** @type {any} */ x) => [say(x.time_s, "time"), say(x.speed_mps, "speed"), say(x.wheel_n, "force"), say(x.guide_n, "force"), say(x.wheel_radps, "angular_speed")]);
  return rows && { head: ["time", "speed of the piece", "force on the wheel", "force on the guide", "wheel"], rows };
}

export function Launcher() {
  const [at, set_at] = useState(-1);
  const frame = useRef(null);
  const hold = parts.value["hold.launcher"];
  const svg = parts.value["picture.launcher"];
  const moments = hold?.moments ?? [];
  const m = at >= 0 ? moments[Math.min(at, moments.length - 1)] : null;
  const turn = (/** @type {number} */ r, /** @type {number} */ a) => [m.at[0] + r * Math.cos(a), m.at[1] - r * Math.sin(a)];
  const overlay = hold?.size && html`<svg ref=${frame} class="overlay" viewBox=${`0 0 ${hold.size[0]} ${hold.size[1]}`} role="group" aria-label="Handles of the launcher">
    ${m && html`<g class="moving"><circle cx=${m.at[0]} cy=${m.at[1]} r=${hold.piece} /><path d=${`M${m.at[0]} ${m.at[1]}L${turn(hold.piece, -m.turned_rad).join(" ")}`} /></g>`}
    ${hold.handles.map((/** @type {any} */ h) => html`<${Handle} key=${h.key} h=${h} frame=${frame} />`)}
  </svg>`;
  return html`<div class="launcher-view">
    ${hold?.note && html`<p class="refused">${hold.note}</p>`}
    <${Picture} name="launcher" svg=${svg} table=${passage(hold)}>${overlay}</${Picture}>
    ${moments.length > 0 && html`<div class="moment"><label for="moment">Moment</label>
      <input id="moment" type="range" min="-1" max=${moments.length - 1} value=${at} aria-valuetext=${m ? say(m.time_s, "time") : "none"} onInput=${(/** @type {any} */ e) => set_at(Number(e.target.value))} />
      <output>${m ? `${say(m.time_s, "time")}: ${say(m.speed_mps, "speed")}, pressed with ${say(m.guide_n, "force")}, wheel at ${say(m.wheel_radps, "angular_speed")}` : "Slide to follow the piece; drag the round handles to change the launcher."}</output></div>`}
  </div>`;
}
