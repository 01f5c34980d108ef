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
  if (fetching) {
    again = true;
    return;
  }
  fetching = true;
  do {
    again = false;
    try {
      await fetch_rehearsal();
      shots.value = await get(of_log("floor"));
      why_not.value = "";
      next.value = await get(of_log("floor/next"));
      fit.value = shots.value.says.length > 0 ? await get(of_log("floor/fit")) : null;
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      if (e.why !== "unreachable") why_not.value = `${e.problems[0]?.what ?? ""}. ${e.problems[0]?.fix ?? ""}`;
      if (e.problems[0]?.code === "no-folder") shots.value = null;
    }
  } while (again);
  fetching = false;
}

/** Another log is looked at: what was known of the one before is gone. */
export function forget() {
  shots.value = next.value = fit.value = null;
}
