// @ts-check
/** Practice on a hidden machine: whether this browser looks at it, how it stands, and its throws one after the other. */
import { signal } from "@preact/signals";
import { Refused, get, post } from "/lib/server.js";
import { doing } from "/lib/state.js";

const PLACE = "arcwright-rehearsing";

/** Does this browser look at the rehearsal in place of the real shots? */
export const rehearsing = signal(sessionStorage.getItem(PLACE) === "yes");
/** How it stands; null before it was asked for. */
export const rehearsal = signal(/** @type {any} */ (null));
/** What it is thrown until: `advice`, `stop`, or empty when nobody throws. */
export const until = signal("");
/** A throw or a count is on its way. */
export const at_work = signal(false);

/** @param {string} path below floor */
export const of_log = (path) => (rehearsing.value ? `${path}?rehearsal=true` : path);

/** @param {boolean} yes */
export function look_at(yes) {
  rehearsing.value = yes;
  until.value = "";
  if (yes) sessionStorage.setItem(PLACE, "yes");
  else sessionStorage.removeItem(PLACE);
}

/** Answers of the hidden machine so far: what was asked for before the newest of them tells of an older state. */
let answers = 0;

export async function fetch_rehearsal() {
  const before = answers;
  try {
    const state = await get("floor/rehearsal");
    if (answers !== before) return;
    rehearsal.value = state;
    if (!rehearsal.value.going && rehearsing.value) look_at(false);
  } catch (e) {
    if (!(e instanceof Refused)) throw e;
  }
}

/** @param {string} path @param {unknown} body */
async function ask(path, body) {
  at_work.value = true;
  try {
    const state = await doing(() => post(path, body));
    answers += 1;
    if (state) rehearsal.value = state;
    return state;
  } finally {
    at_work.value = false;
  }
}

/** @param {number | undefined} seed @param {string[]} see */
export async function begin(seed, see) {
  if (await ask("floor/rehearsal", { seed, see })) look_at(true);
}

/** @param {string} [words] from where and how fast, in place of what is to be done next */
export const step = (words) => ask("floor/rehearsal/step", { words });

/** Throws one after the other, until there is something to do besides throwing, or to the sign to stop. @param {"advice" | "stop"} what */
export async function run(what) {
  until.value = what;
  while (until.value === what) {
    const state = await step();
    if (!state || state.stop || state.thrown >= state.most || (what === "advice" && state.advice)) break;
  }
  if (until.value === what) until.value = "";
}

export const pause = () => (until.value = "");
export const prove = () => ask("floor/rehearsal/proof", {});
