// @ts-check
/** Shots that wait for the connection. Each has a key of its own, so that sending twice does not log twice. */
import { signal } from "@preact/signals";
import { Refused, post } from "/lib/server.js";
import { project } from "/lib/state.js";

/** Refusals that say nothing about the shot: it waits. */
const LATER = ["unreachable", "unpaired", "too-often"];
/** A network that swallows what is sent is no connection. */
const LONGEST_MS = 8000;
const PLACE = "arcwright-shots";

/** `at`: the project that was served when it was thrown. @returns {{key: string, words: string, thrown_utc_ms: number, anyway?: boolean, at?: string}[]} */
function stored() {
  try {
    return JSON.parse(localStorage.getItem(PLACE) ?? "[]");
  } catch {
    return [];
  }
}

export const waiting = signal(stored());
/** What was answered last: words, or what was refused. */
export const last = signal(/** @type {{says?: string, refused?: Refused, words: string, key: string} | null} */ (null));

/** Shots that were logged from this browser since it was opened, the last one last. @type {import("@preact/signals").Signal<number[]>} */
export const own = signal([]);

/** Takes the last shot that was logged from here back; what others logged since stays. */
export async function undo_own() {
  const shot = own.value.at(-1);
  if (shot === undefined) return;
  const said = await post("floor/undo", { shot });
  own.value = own.value.slice(0, -1);
  last.value = { says: said.says, words: "", key: "" };
}

function store() {
  localStorage.setItem(PLACE, JSON.stringify(waiting.value));
}

let busy = false;
/** Takes the last shot that waits back; one that is on its way just now is not. */
export function take_back() {
  const here = waiting.value.filter((s) => !elsewhere.value.includes(s.key));
  if (here.length <= (busy ? 1 : 0)) return;
  waiting.value = waiting.value.filter((s) => s !== here.at(-1));
  store();
}

/** Keys of waiting shots that were thrown with another project than the one served now. */
export const elsewhere = signal(/** @type {string[]} */ ([]));

/** Sends what waits, in order; shots of another project wait for that. */
export async function flush() {
  if (busy) return;
  busy = true;
  /** @type {string[]} */
  const other = [];
  try {
    for (;;) {
      const shot = waiting.value.find((s) => !other.includes(s.key));
      if (!shot) return;
      try {
        const said = await post("floor/shots", shot, AbortSignal.timeout(LONGEST_MS));
        last.value = { says: said.says, words: shot.words, key: shot.key };
        if (!own.value.includes(said.shot)) own.value = [...own.value, said.shot];
      } catch (e) {
        if (!(e instanceof Refused)) throw e;
        if (LATER.includes(e.why)) return;
        if (e.why === "elsewhere") {
          other.push(shot.key);
          continue;
        }
        last.value = { refused: e, words: shot.words, key: shot.key };
      }
      waiting.value = waiting.value.filter((s) => s.key !== shot.key);
      store();
    }
  } finally {
    busy = false;
    elsewhere.value = other;
  }
}

/** Sends the shots of another project to this one after all. */
export function send_here() {
  waiting.value = waiting.value.map((s) => (elsewhere.value.includes(s.key) ? { ...s, at: project.value?.at } : s));
  store();
  return flush();
}

/** @param {string} words @param {boolean} [anyway] */
export function log(words, anyway = false) {
  const key = crypto.randomUUID?.() ?? `${Date.now()}-${Math.random().toString(36).slice(2)}`;
  waiting.value = [...waiting.value, { key, words, thrown_utc_ms: Date.now(), anyway, at: project.value?.at }];
  store();
  return flush();
}

setInterval(() => waiting.value.length > 0 && flush(), 3000);
addEventListener("online", () => flush());
