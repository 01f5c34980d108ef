// @ts-check
/** One load, moment by moment: to look at, in words, and its forces as a table. */
import { html } from "htm/preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { fetching, replay, room, watch } from "/lib/feed.js";
import { contacts, stage } from "/lib/stage.js";
import { Table } from "/parts/picture.js";

const SPEEDS = /** @type {[number, string][]} */ ([[1, "1"], [0.5, "1/2"], [0.25, "1/4"], [0.1, "1/10"]]);
const VIEWS = [["aslant", "Aslant"], ["top", "Top"], ["side", "Side"], ["chute", "Chute"]];
const still = () => matchMedia("(prefers-reduced-motion: reduce)").matches;

/** A moment in words. @param {number} ms */
const clock = (ms) => (ms < 0 ? `Loading, ${(-ms / 1000).toFixed(1)} s before the feed is switched on` : `At ${(ms / 1000).toFixed(1)} s`);
/** @param {number} n */
const newton = (n) => `${n.toFixed(1)} N`;

/** What is said of a moment. @param {any} r @param {number} ms */
function said(r, ms) {
  let words = "";
  for (const [from, text] of r.story) {
    if (from > ms + 1) break;
    words = text;
  }
  return words;
}

/** @param {{r: any}} p */
function Player({ r }) {
  const box = useRef(/** @type {HTMLElement | null} */ (null));
  const on_stage = useRef(/** @type {import("/lib/stage.js").Stage | null} */ (null));
  const [at, set_at] = useState(0);
  const [playing, set_playing] = useState(false);
  const [speed, set_speed] = useState(1);
  const [kind, set_kind] = useState("");
  const [forces, set_forces] = useState(false);
  const frames = r.frames;
  const last = frames.length - 1;
  const frame = frames[Math.min(Math.floor(at), last)];
  // What was chosen for the load before holds for this one.
  const kept = useRef({ forces });
  kept.current = { forces };

  useEffect(() => {
    let gone = false;
    if (box.current && last >= 0) {
      stage(box.current, r).then((made) => {
        if (gone) return made.end();
        on_stage.current = made;
        made.forces(kept.current.forces);
        made.show(frames[0], frames[Math.min(1, last)], 0);
        set_kind(made.kind);
        if (!still()) set_playing(true);
      });
    }
    set_at(0);
    return () => {
      gone = true;
      on_stage.current?.end();
      on_stage.current = null;
    };
  }, [r]);
  useEffect(() => {
    if (!playing) return;
    let id = 0;
    let before = 0;
    let ms = frames[Math.min(Math.floor(at), last)][0];
    let i = Math.floor(at);
    const step = (/** @type {number} */ now) => {
      // A hidden page does not jump ahead when it comes back.
      ms += before ? Math.min(now - before, 100) * speed : 0;
      before = now;
      while (i < last && frames[i + 1][0] <= ms) i++;
      if (i >= last) {
        set_at(last);
        set_playing(false);
        return;
      }
      set_at(i + Math.min(1, Math.max(0, (ms - frames[i][0]) / (frames[i + 1][0] - frames[i][0]))));
      id = requestAnimationFrame(step);
    };
    id = requestAnimationFrame(step);
    return () => cancelAnimationFrame(id);
  }, [playing, speed, r]);
  useEffect(() => {
    const i = Math.min(Math.floor(at), last);
    if (i >= 0) on_stage.current?.show(frames[i], frames[Math.min(i + 1, last)], at - i);
  }, [at, kind]);

  if (!frame) return html`<p>Nothing to see in this load.</p>`;
  const toggle = () => {
    if (!playing && at >= last) set_at(0);
    set_playing(!playing);
  };
  const keys = (/** @type {KeyboardEvent} */ e) => {
    const turns = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [-10, 0], ArrowRight: [10, 0], ArrowUp: [0, 6], ArrowDown: [0, -6] });
    if (turns[e.key]) on_stage.current?.turn(...turns[e.key]);
    else if (e.key === "+" || e.key === "=") on_stage.current?.nearer(1.2);
    else if (e.key === "-") on_stage.current?.nearer(1 / 1.2);
    else if (e.key === " ") toggle();
    else return;
    e.preventDefault();
  };
  const down = (/** @type {PointerEvent} */ e) => {
    const node = /** @type {Element} */ (e.currentTarget);
    node.setPointerCapture(e.pointerId);
    let [x, y] = [e.clientX, e.clientY];
    const move = (/** @type {any} */ m) => {
      on_stage.current?.turn(-0.4 * (m.clientX - x), 0.4 * (m.clientY - y));
      [x, y] = [m.clientX, m.clientY];
    };
    const up = () => node.removeEventListener("pointermove", move);
    node.addEventListener("pointermove", move);
    node.addEventListener("pointerup", up, { once: true });
    node.addEventListener("pointercancel", up, { once: true });
  };
  const jump = (/** @type {number} */ ms) => {
    set_playing(false);
    const i = frames.findIndex((/** @type {any} */ f) => f[0] >= ms);
    set_at(i < 0 ? last : i);
  };
  const rows = contacts(frame)
    .sort((a, b) => b.push_n - a.push_n)
    .map((c) => [`piece ${c.piece + 1}`, c.against >= 0 ? `piece ${c.against + 1}` : r.against[c.against], newton(c.push_n), newton(c.friction_n)]);
  const words = said(r, frame[0]);
  const solid = kind === "3d";
  return html`<div class="player"><div class="seen">
    <div class="stage" ref=${box} tabindex="0" role="group" aria-label=${solid ? "The hopper and its pieces. Arrow keys turn the view, plus and minus go nearer and farther, the space bar plays and stops. What happens stands in words below." : "The hopper and its pieces. The space bar plays and stops. What happens stands in words below."} onKeyDown=${keys} onPointerDown=${solid ? down : undefined}></div>
    ${kind === "2d" && html`<p class="quiet" role="note">This browser does not draw in three dimensions here, so the load is shown from above and from the side.</p>`}
    <div class="deck">
      <button type="button" class="main" onClick=${toggle}>${playing ? "Pause" : at >= last ? "Once more" : "Play"}</button>
      <input type="range" min="0" max=${last} step="1" value=${Math.floor(at)} aria-label="Moment of the load" aria-valuetext=${clock(frame[0])} onInput=${(/** @type {any} */ e) => { set_playing(false); set_at(Number(e.target.value)); }} />
      <fieldset class="pick"><legend>Speed</legend>${SPEEDS.map(([v, text]) => html`<label><input type="radio" name="speed" checked=${speed === v} onChange=${() => set_speed(v)} /> <span>${text}</span></label>`)}</fieldset>
      ${solid && html`<fieldset class="pick"><legend>Seen from</legend>${VIEWS.map(([v, text]) => html`<button type="button" onClick=${() => on_stage.current?.view(v)}>${text}</button>`)}
        <button type="button" aria-label="nearer" onClick=${() => on_stage.current?.nearer(1.2)}>+</button><button type="button" aria-label="farther" onClick=${() => on_stage.current?.nearer(1 / 1.2)}>−</button></fieldset>`}
      <label class="tick"><input type="checkbox" checked=${forces} onChange=${(/** @type {any} */ e) => { set_forces(e.target.checked); on_stage.current?.forces(e.target.checked); }} /> Forces as lines</label>
    </div>
    </div><div class="told">
    <p class="moment-words" aria-live=${playing ? "off" : "polite"}><b>${clock(frame[0])}:</b> ${words}.${frame[1] >= 1000 && frame[0] > 0 ? ` Waiting for ${(frame[1] / 1000).toFixed(1)} s.` : ""}</p>
    <details open><summary>Forces at this moment</summary>${rows.length ? html`<${Table} head=${["piece", "presses on", "push", "friction"]} rows=${rows} caption="Contacts that carry force at this moment" />` : html`<p>No contact carries force.</p>`}</details>
    <details><summary>The whole load in words</summary><ol class="story">${r.story.map((/** @type {[number, string]} */ [ms, text]) => html`<li><button type="button" onClick=${() => jump(ms)}>${ms < 0 ? "loading" : `${(ms / 1000).toFixed(1)} s`}</button> ${text}</li>`)}</ol><p>${r.ends}</p></details>
  </div></div>`;
}

/** The replay with the list of loads, worst first. */
export function Replay() {
  const [number, set_number] = useState("");
  const r = replay.value;
  const s = room.value.survey;
  const worst = s?.worst ?? [];
  const show = (/** @type {number} */ load) => {
    watch(load, s?.seed ?? 1);
  };
  const usable = room.value.possible;
  return html`<section class="replay" id="replay"><h2>Look at a load</h2>
    <div class="acts">
      <button type="button" class="main" disabled=${!usable || !worst.length || !s?.current || fetching.value} onClick=${() => show(worst[0].load)}>Show me the worst</button>
      <label>Loads, longest wait first <select disabled=${!usable || !worst.length || !s?.current} value=${r?.load ?? ""} onChange=${(/** @type {any} */ e) => e.target.value !== "" && show(Number(e.target.value))}>
        <option value="">choose…</option>${worst.map((/** @type {any} */ w) => html`<option value=${w.load}>load ${w.load}: ${w.says}</option>`)}</select></label>
      <form class="acts" onSubmit=${(/** @type {any} */ e) => { e.preventDefault(); if (number !== "") show(Number(number)); }}>
        <label>Any load by its number <input class="short" type="number" min="0" max="4294967295" step="1" value=${number} onInput=${(/** @type {any} */ e) => set_number(e.target.value)} /></label><button disabled=${!usable || fetching.value}>Show it</button></form>
    </div>
    ${fetching.value && html`<p class="quiet" role="status">playing it…</p>`}
    ${r && html`<h3>Load ${r.load}</h3><p>${r.ends}</p>${r.invalid && html`<p class="refused"><b>A piece went through a wall in this load: it says nothing.</b></p>`}<${Player} r=${r} />`}
  </section>`;
}
