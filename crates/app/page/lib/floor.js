// @ts-check
/** What the log of shots says, and what comes next by it. */
import { signal } from "@preact/signals";
import { Refused, get } from "/lib/server.js";
import { fetch_rehearsal, of_log } from "/lib/rehearsal.js";

export const shots = signal(/** @type {any} */ (null));
export const next = signal(/** @type {any} */ (null));
export const fit = signal(/** @type {any} */ (null));
export const why_not = signal("");

let fetching = false;
let again = false;
/** Fetches all of it; what is asked for meanwhile is fetched once more afterwards. */
export async function fetch_all() {
  again = true;
  if (fetching) return;
  fetching = true;
  try {
    while (again) {
      again = false;
      await fetch_once();
    }
  } finally {
    fetching = false;
  }
}

async function fetch_once() {
  const log = forgotten;
  const is_same = () => log === forgotten;
  try {
    await fetch_rehearsal();
    const seen = await get(of_log("floor"));
    if (is_same()) shots.value = seen;
    why_not.value = "";
    const advised = await get(of_log("floor/next"));
    if (is_same()) next.value = advised;
    const learned = seen.says.length > 0 ? await get(of_log("floor/fit")) : null;
    if (is_same()) fit.value = learned;
  } catch (e) {
    if (!(e instanceof Refused)) throw e;
    if (e.why !== "unreachable") why_not.value = `${e.problems[0]?.what ?? ""}. ${e.problems[0]?.fix ?? ""}`;
    if (e.problems[0]?.code === "no-folder") shots.value = null;
  }
}

/** How many times another log was turned to: what is on its way of an earlier one is not taken. */
let forgotten = 0;
/** Another log is looked at: what was known of the one before is gone. */
export function forget() {
  forgotten += 1;
  shots.value = next.value = fit.value = null;
}
