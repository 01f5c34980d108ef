// @ts-check
/** The shell: head, rooms, changes that are not kept yet. */
import { html, render } from "htm/preact";
import { useEffect } from "preact/hooks";
import { signal } from "@preact/signals";
import { changed_keys, connected, draft, keep, keep_as, project, put_back, quantity, redo, start, trouble, undo } from "/lib/state.js";
import { Strip } from "/parts/verdicts.js";
import { sentence } from "/lib/say.js";
import { say } from "/parts/quantity.js";
import { told } from "/parts/told.js";
import { Pair, Share, role, who_am_i } from "/parts/share.js";
import { Brief } from "/rooms/brief.js";
import { Bench } from "/rooms/bench.js";
import { Feed } from "/rooms/feed.js";
import { Frame } from "/rooms/frame.js";
import { Floor } from "/rooms/floor.js";
import { Pit } from "/rooms/pit.js";
import { Book } from "/rooms/book.js";

const ROOMS = [
  { path: "brief", name: "Brief", asks: "What must the machine do, within which limits?", room: Brief },
  { path: "bench", name: "Bench", asks: "Will this launcher do it, and which dimensions would do it better?", room: Bench },
  { path: "feed", name: "Feed", asks: "Will the pieces queue, how fast, and what stops them wedging?", room: Feed },
  { path: "frame", name: "Frame", asks: "Is the rest of the machine sound: drive, power, bearings, mass, guards? And what comes next?", room: Frame },
  { path: "floor", name: "Floor", asks: "What did the test shots teach us, what do we move next, when do we stop?", room: Floor },
  { path: "pit", name: "Pit", asks: "What do we set right now, and has anything changed since it last worked?", room: Pit },
  { path: "book", name: "Book", asks: "What do we cut, hand to the programmers, show the judges and leave to next year's team?", room: Book },
];

const path = signal(location.pathname);
const scheme = signal(localStorage.getItem("scheme") ?? "auto");

/** @param {string} to */
export function go(to) {
  history.pushState(null, "", to);
  path.value = location.pathname;
  requestAnimationFrame(() => {
    const id = location.hash.slice(1);
    if (id) requestAnimationFrame(() => document.getElementById(id)?.querySelector("input")?.focus({ preventScroll: true }));
    // To the very top: the rooms stay in sight there and would lie on the heading.
    if (id) document.getElementById(id)?.scrollIntoView();
    else scrollTo(0, 0);
    document.querySelector("h1")?.focus({ preventScroll: true });
  });
}

addEventListener("popstate", () => (path.value = location.pathname));
addEventListener("click", (e) => {
  const link = e.target instanceof Element && e.target.closest("a[href^='/']");
  if (!link || e.ctrlKey || e.metaKey || e.shiftKey || link.hasAttribute("download")) return;
  e.preventDefault();
  go(link.getAttribute("href") ?? "/");
});
addEventListener("keydown", (e) => {
  const in_text = e.target instanceof Element && e.target.closest("input:not([type=range]), textarea");
  if (!in_text && (e.ctrlKey || e.metaKey) && e.key.toLowerCase() === "z") {
    e.preventDefault();
    if (e.shiftKey) redo();
    else undo();
  }
});

const SCHEMES = ["auto", "light", "dark"];
function turn_scheme() {
  scheme.value = SCHEMES[(SCHEMES.indexOf(scheme.value) + 1) % SCHEMES.length];
  localStorage.setItem("scheme", scheme.value);
}

function Head() {
  const p = project.value;
  useEffect(() => {
    if (scheme.value === "auto") delete document.documentElement.dataset.scheme;
    else document.documentElement.dataset.scheme = scheme.value;
  }, [scheme.value]);
  return html`<header class="head">
    <a class="mark" href="/brief" aria-label="Arcwright"><svg viewBox="0 0 32 32" aria-hidden="true"><path d="M4 27C8 7 21 5 26 18" /><path d="M19 20.500h11M24.500 20.500V28" /></svg><span>Arcwright</span></a>
    <div class="what"><b>${p.name ?? p.project}</b><span class="wide">${p.from === "demo" ? "built-in demo" : p.at}</span>${p.from === "demo" && role.value === "owner" && html`<a class="begin-link" href="/brief#begin">Begin your own</a>`}</div>
    <${Strip} />
    <div class="tools">
      <${Share} />
      <button type="button" onClick=${undo} disabled=${!p.can_undo} title="undo the last change of the file">Undo</button>
      <button type="button" onClick=${redo} disabled=${!p.can_redo} title="do it again">Redo</button>
      <button type="button" onClick=${turn_scheme} title="light, dark, or as the device is set">Screen: ${scheme.value}</button>
    </div>
  </header>`;
}

/** @param {{at: string}} p */
function Rooms({ at }) {
  return html`<nav class="rooms" aria-label="Rooms">${ROOMS.map((r) => html`<a href=${`/${r.path}`} aria-current=${r.path === at ? "page" : undefined}>${r.name}</a>`)}</nav>`;
}

/** A key in words; a spot by its name. @param {string} key */
const named = (key) => key.replace(/^spot\[(\d+)\]/, (_, i) => project.value.spots[i]?.name ?? "spot").replace(/\[(\d+)\]/g, (_, i) => ` ${Number(i) + 1}`).replace(/[._]/g, " ");

function Changes() {
  const keys = changed_keys.value;
  const is_demo = project.value.from === "demo";
  const ask = async () => {
    const name = prompt("Name of the new project folder", "my-thrower");
    if (name) await keep_as(name);
  };
  if (!keys.length) return null;
  return html`<div class="changes" role="status">
    <div><b>${keys.length === 1 ? "1 change" : `${keys.length} changes`} not kept:</b> ${keys.slice(0, 4).map((k) => {
      const q = quantity(k);
      return html`<span class="change">${named(k)} <s>${q?.text}</s> → ${q ? say(q, draft.value[k]) : draft.value[k]}</span>`;
    })}${keys.length > 4 ? "…" : ""}</div>
    <div class="acts">
      <button type="button" class="main" onClick=${keep}>${is_demo ? "Keep in this demo" : "Keep in the file"}</button>
      ${is_demo && html`<button type="button" onClick=${ask}>Keep as my project</button>`}
      <button type="button" onClick=${() => put_back()}>Put back</button>
    </div>
  </div>`;
}

function Trouble() {
  const t = trouble.value;
  if (!connected.value || t?.why === "unreachable") {
    return html`<div class="trouble" role="alert"><b>The program does not answer.</b> Start it again with <code>arcwright page</code>; nothing is lost, and shots wait here until it is back.</div>`;
  }
  if (!t) return null;
  if (t.why === "changed") {
    return html`<div class="trouble" role="alert"><b>The file was changed elsewhere at the same time</b>${t.keys.length > 0 ? ` (${t.keys.join(", ")})` : ""}. Nothing was written. Look at the new values: keep yours by moving them again, or put them back.
      <button type="button" onClick=${() => (trouble.value = null)}>I have looked</button></div>`;
  }
  return html`<div class="trouble" role="alert">${t.problems.map((p) => html`<p><b>${told(sentence(p.what))}.</b> ${told(sentence(p.fix))}.</p>`)}
    <button type="button" onClick=${() => (trouble.value = null)}>Close</button></div>`;
}

function FileTrouble() {
  const problems = project.value.problems;
  if (!problems.length) return null;
  return html`<div class="trouble" role="alert"><b>The file cannot be read as it stands; what you see is its last good state.</b>
    <ul>${problems.map((/** @type {any} */ p) => html`<li>${p.place ? `line ${p.place.line}: ` : ""}${told(p.what)}. ${told(sentence(p.fix))}.</li>`)}</ul></div>`;
}

function Page() {
  const p = project.value;
  if (role.value === null) return html`<${Pair} done=${() => { path.value = location.pathname; start(); }} />`;
  if (!p) return html`<p class="waiting">${trouble.value ? html`<${Trouble} />` : "Reading the project…"}</p>`;
  const first = path.value.split("/")[1] || (p.from === "demo" ? "bench" : "brief");
  const room = ROOMS.find((r) => r.path === first) ?? ROOMS[0];
  document.title = `${room.name}: ${p.project} · Arcwright`;
  return html`
    <a class="skip" href="#room">To the room</a>
    <${Head} />
    <${Rooms} at=${room.path} />
    <main id="room" class=${`room ${room.path}`}>
      <div class="title"><h1 tabindex="-1">${room.name}</h1><p>${room.asks}</p></div>
      <${FileTrouble} /><${Trouble} />
      <${room.room} />
    </main>
    <${Changes} />`;
}

who_am_i().then(() => role.value && start());
render(html`<${Page} />`, /** @type {HTMLElement} */ (document.getElementById("page")));
