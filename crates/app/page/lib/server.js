// @ts-check
/** Requests to the program that serves this page. */

/** What the server refused, with its reasons. */
export class Refused extends Error {
  /**
   * @param {string} why `wrong`, `changed`, `elsewhere`, `stale` or `unreachable`
   * @param {{code: string, key: string, what: string, fix: string}[]} problems
   * @param {string[]} keys keys in conflict
   */
  constructor(why, problems = [], keys = []) {
    super(problems[0]?.what ?? why);
    this.why = why;
    this.problems = problems;
    this.keys = keys;
  }
}

/**
 * @param {string} path below /api/v1/
 * @param {RequestInit} [options]
 * @returns {Promise<any>}
 */
async function ask(path, options) {
  let response;
  let body;
  try {
    response = await fetch(`/api/v1/${path}`, options);
    const is_json = response.headers.get("content-type")?.startsWith("application/json");
    body = is_json ? await response.json() : { problems: [{ code: "refused", key: "", what: await response.text(), fix: "" }] };
  } catch {
    const is_given_up = options?.signal?.aborted && options.signal.reason?.name !== "TimeoutError";
    throw new Refused(is_given_up ? "stale" : "unreachable");
  }
  if (!response.ok) throw new Refused(body.why ?? "wrong", body.problems, body.keys);
  return body;
}

/** @param {string} path */
export const get = (path) => ask(path);

/**
 * @param {string} path
 * @param {unknown} body
 * @param {AbortSignal} [signal]
 */
export const post = (path, body, signal) =>
  ask(path, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body), signal });

let counter = 0;
const here = crypto.randomUUID?.() ?? String(Math.random()).slice(2);

/**
 * A line of work of which only the newest request counts. While one is on its way the next waits, and is replaced by a
 * newer one; so a drag never piles up work. An eager line does not wait: it gives up what is on its way, and the server
 * stops working on it. For work that takes longer than a drag can wait.
 * @param {string} name
 * @param {(parts: any, asked: any, reply: any) => void} done
 * @param {(refused: Refused) => void} failed
 * @param {boolean} [eager]
 */
export function line(name, done, failed, eager = false) {
  /** @type {any} */
  let waiting = null;
  let busy = false;
  let newest = 0;
  let abort = new AbortController();
  /** @param {any} asked */
  async function send(asked) {
    const number = (newest = ++counter);
    abort = new AbortController();
    try {
      const reply = await post("work", { ...asked, line: `${here}-${name}`, number }, eager ? abort.signal : undefined);
      if (number === newest) done(reply.parts, asked, reply);
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      if (e.why !== "stale" && number === newest) failed(e);
    }
  }
  async function run() {
    busy = true;
    while (waiting) {
      const asked = waiting;
      waiting = null;
      await send(asked);
    }
    busy = false;
  }
  return (/** @type {any} */ asked) => {
    if (eager) {
      abort.abort();
      send(asked);
      return;
    }
    waiting = asked;
    if (!busy) run();
  };
}

/**
 * Calls back whenever the project or the log changes, and when the connection comes and goes.
 * @param {() => void} changed
 * @param {(connected: boolean) => void} connection
 */
export function news(changed, connection) {
  const source = new EventSource("/api/v1/news");
  source.onmessage = () => {
    connection(true);
    changed();
  };
  source.onerror = () => connection(false);
}
