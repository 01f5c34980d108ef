// @ts-check
/** The feed: what was played, what goes on, the load that is looked at. */
import { signal } from "@preact/signals";
import { get, post } from "/lib/server.js";
import { doing, project } from "/lib/state.js";

/** How the loads stand; null before it was asked for. @type {import("@preact/signals").Signal<any>} */
export const room = signal(null);
/** The load that is looked at. @type {import("@preact/signals").Signal<any>} */
export const replay = signal(null);
/** A load is on its way. */
export const fetching = signal(false);

/** Often enough to see it move. */
const EVERY_MS = 350;
let timer = 0;
let open = false;

/** @param {any} state */
function take(state) {
  if (!state) return;
  room.value = state;
  clearTimeout(timer);
  if (open && state.running) timer = window.setTimeout(look, EVERY_MS);
}

export async function look() {
  take(await doing(() => get("feed")));
}

/** The room is shown; what was never played is played. */
export async function enter() {
  open = true;
  await look();
  const r = room.value;
  if (r?.described && r.possible && !r.running && !r.survey) await play("loads");
}

export function leave() {
  open = false;
  clearTimeout(timer);
}

/** @param {"loads" | "remedies"} what */
export async function play(what) {
  take(await doing(() => post("feed/play", { what })));
}

export async function stop() {
  take(await doing(() => post("feed/stop", {})));
}

/** Writes a remedy into the project and plays the same loads again. @param {string} remedy its code */
export async function apply(remedy) {
  const state = await doing(() => post("feed/apply", { remedy, revision: project.value.revision }));
  if (!state) return;
  replay.value = null;
  take(state);
}

/** @param {number} load @param {number} [seed] */
export async function watch(load, seed = 1) {
  fetching.value = true;
  const found = await doing(() => post("feed/replay", { load, seed }));
  fetching.value = false;
  if (found) replay.value = found;
}
