// @ts-check
/** What the page knows: the project, changes not kept yet, results. */
import { batch, computed, signal } from "@preact/signals";
import { Refused, get, line, news, post } from "/lib/server.js";

/** @type {import("@preact/signals").Signal<any>} the project as the server has it */
export const project = signal(null);
/** @type {import("@preact/signals").Signal<Record<string, number>>} values changed here and not kept yet, SI by key */
export const draft = signal({});
/** Results by the name of their part, with the draft applied. */
export const parts = signal(/** @type {Record<string, any>} */ ({}));
/** The slow parts, and what they were asked for. */
export const slow = signal(/** @type {Record<string, any>} */ ({}));
export const slow_state = signal(/** @type {"none"|"rough"|"fine"|"old"} */ ("none"));
/**
 * Design A, to compare what is on the bench (B) with: the file as it is, or values pinned here. `scatter` goes by the same
 * random numbers as that of B, so that what differs is the design.
 * @type {import("@preact/signals").Signal<{pinned: Record<string, number> | null, parts: Record<string, any>, scatter: any}>}
 */
export const rival = signal({ pinned: /** @type {Record<string, number> | null} */ (null), parts: {}, scatter: null });
/** Are two designs shown side by side? */
export const side_by_side = signal(false);
/** Which test shots the numbers go by, in a line; empty for the design alone. */
export const goes_by = signal("");
/** What was refused last, or null. */
export const trouble = signal(/** @type {Refused | null} */ (null));
export const connected = signal(true);
/** Name of the spot that single throws are from. */
export const spot = signal("");
/** Rises when the log of shots may have changed. */
export const log_changes = signal(0);

export const changed_keys = computed(() => Object.keys(draft.value));

/** @param {string} key */
export const quantity = (key) => project.value?.quantities.find((/** @type {any} */ q) => q.key === key);

const wishes = () => Object.entries(draft.value).map(([key, value]) => ({ key, value }));

const quick = line(
  "quick",
  (found, _, reply) => {
    batch(() => {
      parts.value = { ...parts.value, ...found };
      goes_by.value = reply.goes_by;
      trouble.value = null;
    });
    check_after(250);
  },
  (refused) => (trouble.value = refused),
);

/** What takes long and comes only when nothing has been moved for a moment, besides the verdicts that take a search. */
const AT_REST = ["picture.setpoints"];
/** Is what comes at rest that of the present values? */
export const settled = signal(true);
/** The verdicts that take a search come when nothing has been moved for a moment. */
const searched = line(
  "searched",
  (found) => {
    parts.value = { ...parts.value, ...found };
    settled.value = true;
    const fails = found.check.verdicts.some((/** @type {any} */ v) => v.status === "fails");
    if (fails) helping({ want: ["helps"], changes: wishes(), unsearched: true });
    else parts.value = { ...parts.value, helps: [] };
  },
  (refused) => (trouble.value = refused),
  true,
);
/** Which handles would help: many designs are tried, so it comes last. */
const helping = line(
  "helping",
  (found) => (parts.value = { ...parts.value, helps: found.helps }),
  (refused) => (trouble.value = refused),
  true,
);
let check_timer = 0;
/** @param {number} wait_ms */
function check_after(wait_ms) {
  clearTimeout(check_timer);
  check_timer = window.setTimeout(() => searched({ want: ["check", ...AT_REST.filter((name) => wanted.includes(name))], changes: wishes() }), wait_ms);
}

const thorough = line(
  "thorough",
  (found, asked) => {
    batch(() => {
      slow.value = { ...slow.value, ...found };
      slow_state.value = asked.throws > ROUGH ? "fine" : "rough";
    });
    if (asked.throws <= ROUGH) scatter_after(FINE, 600);
  },
  (refused) => (trouble.value = refused),
  true,
);

const compared = line(
  "compared",
  (found) => (rival.value = { ...rival.value, parts: found }),
  (refused) => (trouble.value = refused),
);
const compared_scatter = line(
  "compared-scatter",
  (found) => (rival.value = { ...rival.value, scatter: found.scatter }),
  (refused) => (trouble.value = refused),
  true,
);
/** Works design A out; it stays until it is pinned anew or the file changes. */
function compare() {
  if (!side_by_side.value || !project.value) return;
  const changes = Object.entries(rival.value.pinned ?? {}).map(([key, value]) => ({ key, value }));
  compared({ want: ["check", "picture.flights", "picture.launcher", "hold.launcher"], changes, spot: spot.value || undefined, unsearched: true });
  compared_scatter({ want: ["scatter"], changes, throws: FINE });
}

/** @param {boolean} on */
export function set_side_by_side(on) {
  side_by_side.value = on;
  compare();
}

/** Pins what is on the bench as A, or the file again. @param {Record<string, number> | null} values */
export function pin(values) {
  rival.value = { pinned: values, parts: {}, scatter: null };
  side_by_side.value = true;
  compare();
}

/** A comes onto the bench, what was there becomes A. */
export function swap() {
  const next = { ...draft.value };
  draft.value = { ...(rival.value.pinned ?? {}) };
  pin(Object.keys(next).length > 0 ? next : null);
  refresh();
}

const ROUGH = 1024;
const FINE = 16384;
let timer = 0;

/** @param {number} throws @param {number} wait_ms */
function scatter_after(throws, wait_ms) {
  clearTimeout(timer);
  timer = window.setTimeout(() => {
    if (!wants_scatter) return;
    const fine = throws > ROUGH ? ["picture.budget", "map", "picture.map"] : [];
    thorough({ want: ["scatter", "picture.scatter", ...fine], changes: wishes(), throws });
  }, wait_ms);
}

/** Parts that the present room shows. */
let wanted = ["check"];
let wants_scatter = false;

/** @param {string[]} names @param {boolean} with_scatter */
export function want(names, with_scatter) {
  wanted = ["check", ...names];
  wants_scatter = with_scatter;
  refresh();
}

/** Asks for everything that is shown, as it stands with the draft. */
export function refresh() {
  if (!project.value) return;
  // What was found for other values helps no more.
  if (parts.value.helps !== undefined) parts.value = { ...parts.value, helps: undefined };
  settled.value = false;
  quick({ want: wanted.filter((name) => !AT_REST.includes(name)), changes: wishes(), spot: spot.value || undefined, unsearched: true });
  if (wants_scatter) {
    if (slow_state.value !== "none") slow_state.value = "old";
    scatter_after(ROUGH, 350);
  }
}

/** @param {string} name */
export function choose_spot(name) {
  spot.value = name;
  refresh();
  compare();
}

/**
 * Changes a value here; the file stays as it is until the changes are kept.
 * @param {string} key
 * @param {number} value SI
 */
export function change(key, value) {
  const next = { ...draft.value };
  const filed_value = quantity(key)?.value;
  if (filed_value !== undefined && Math.abs(value - filed_value) <= 1e-9 * Math.max(Math.abs(value), 1e-6)) delete next[key];
  else next[key] = value;
  draft.value = next;
  refresh();
}

/** @param {string} [key] puts one value back, or all */
export function put_back(key) {
  const next = { ...draft.value };
  if (key) delete next[key];
  draft.value = key ? next : {};
  refresh();
}

/**
 * The draft as it belongs to another list of spots: by their names, since places in the list move.
 * @param {any[]} old @param {any[]} now
 */
function moved(old, now) {
  const next = /** @type {Record<string, number>} */ ({});
  for (const [key, value] of Object.entries(draft.value)) {
    const place = key.match(/^spot\[(\d+)\](.*)$/);
    const name = place && old[Number(place[1])]?.name;
    if (!place || name === undefined) {
      next[key] = value;
      continue;
    }
    let to = now.findIndex((s) => s.name === name);
    // Another name at the same place.
    if (to < 0 && now.length === old.length) to = Number(place[1]);
    if (to >= 0) next[`spot[${to}]${place[2]}`] = value;
  }
  return next;
}

/** @param {any} view */
function take(view) {
  batch(() => {
    if (project.value) draft.value = moved(project.value.spots, view.spots);
    project.value = view;
    if (!view.spots.some((/** @type {any} */ s) => s.name === spot.value)) spot.value = view.spots.at(-1)?.name ?? "";
    rival.value = { ...rival.value, parts: {}, scatter: null };
  });
  refresh();
  compare();
}

/**
 * @param {() => Promise<any>} act
 * @returns {Promise<any>} what the server said, or null where it refused
 */
async function doing(act) {
  try {
    const said = await act();
    trouble.value = null;
    return said;
  } catch (e) {
    if (!(e instanceof Refused)) throw e;
    trouble.value = e;
    return null;
  }
}

/** Writes the draft into the project file. */
export async function keep() {
  const view = await doing(() => post("project/edit", { changes: wishes(), revision: project.value.revision }));
  if (!view) return;
  draft.value = {};
  take(view);
}

/**
 * Changes the file at once: what is not a number that moves. Values that are not kept yet stay so.
 * @param {any[]} edits @param {{key: string, value: number}[]} [changes]
 */
export async function edit(edits, changes = []) {
  const view = await doing(() => post("project/edit", { changes, edits, revision: project.value.revision }));
  if (!view) return;
  const lost = edits.flatMap((e) => ({ piece: ["piece.", "launcher.squeeze", "launcher.gap"], target: ["target."], unset: [e.key] })[/** @type {string} */ (e.act)] ?? []);
  draft.value = Object.fromEntries(Object.entries(draft.value).filter(([key]) => !lost.some((start) => key.startsWith(start))));
  take(view);
}

/**
 * Makes a project of a few answers.
 * @param {any} answers @param {string} [folder] in a new folder of that name, else where the program was started
 */
export async function begin(answers, folder) {
  const view = await post("project/begin", { answers, folder });
  trouble.value = null;
  anew(view);
}

/** Another project: nothing of the one before is shown any more. @param {any} view */
function anew(view) {
  batch(() => {
    draft.value = {};
    parts.value = {};
    slow.value = {};
    slow_state.value = "none";
    rival.value = { pinned: null, parts: {}, scatter: null };
  });
  take(view);
}

export const undo = () => doing(async () => take(await post("project/undo", {})));
export const redo = () => doing(async () => take(await post("project/redo", {})));

/** @param {string} text */
export async function put_text(text) {
  const view = await doing(() => post("project/text", { text, revision: project.value.revision }));
  if (view) take(view);
  return view !== null;
}

/** @param {string} folder */
export async function keep_as(folder) {
  const view = await doing(() => post("project/keep", { folder }));
  if (!view) return;
  take(view);
  if (changed_keys.value.length) await keep();
}

/** @param {string} demo */
export async function show_demo(demo) {
  const view = await doing(() => post("project/demo", { demo }));
  if (view) anew(view);
}

export { doing };

let started = false;
/** Fetches the project and follows it. */
export function start() {
  if (started) return;
  started = true;
  // What the server refused to somebody who did something stays in sight until they have looked, whatever comes by itself.
  const fetch_it = async () => {
    let view;
    try {
      view = await get("project");
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      trouble.value ??= e;
      return;
    }
    if (trouble.value?.why === "unreachable") trouble.value = null;
    if (view.revision !== project.value?.revision || view.problems.length !== project.value?.problems.length) take(view);
    else project.value = view;
    log_changes.value += 1;
  };
  news(fetch_it, (up) => (connected.value = up));
}
