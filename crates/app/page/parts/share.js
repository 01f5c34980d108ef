// @ts-check
/** Sharing on the local network: codes for the owner, the entry for other devices. */
import { html } from "htm/preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { signal } from "@preact/signals";
import { Refused, get, post } from "/lib/server.js";
import { log_changes } from "/lib/state.js";

/** What this device may do: `owner`, `view`, `log`, `edit`; null before it is paired. */
export const role = signal(/** @type {string | null | undefined} */ (undefined));

export async function who_am_i() {
  try {
    role.value = (await get("share/me")).role;
  } catch (e) {
    if (!(e instanceof Refused)) throw e;
  }
}

const ROLES = [["view", "look"], ["log", "look and log shots"], ["edit", "look, log shots and change the project"]];

export function Share() {
  const dialog = useRef(/** @type {HTMLDialogElement | null} */ (null));
  const [state, set_state] = useState(/** @type {any} */ (null));
  const [code, set_code] = useState(/** @type {any} */ (null));
  const look = async () => {
    try {
      set_state(await get("share"));
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
    }
  };
  const show = async () => {
    set_code(null);
    await look();
    dialog.current?.showModal();
  };
  useEffect(() => {
    if (role.value === "owner") look();
  }, [log_changes.value]);
  useEffect(() => {
    const timer = setInterval(() => dialog.current?.open && look(), 2000);
    return () => clearInterval(timer);
  }, []);
  const connected = state?.devices?.length ?? 0;
  if (role.value !== "owner") return html`<span class="role">may ${role.value}</span>`;
  return html`<button type="button" onClick=${show}>Share${connected ? ` · ${connected}` : ""}${connected ? html`<span class="away"> connected</span>` : ""}</button>
    <dialog ref=${dialog} aria-label="Share on the local network">
      <h2>Share on the local network</h2>
      ${state && !state.on && html`<p>The page answers to this machine only. To let telephones in the same network look on or log shots, end it with Ctrl-C and start it again with <code>arcwright page --share</code>.</p>`}
      ${state?.on && html`<p>Make a code for one device. It works once, for five minutes. Everything goes over your own network, unencrypted: use one that you trust.</p>
        <div class="acts">${ROLES.map(([r, words]) => html`<button type="button" onClick=${async () => set_code(await post("share/code", { role: r }))}>A code to ${words}</button>`)}</div>
        ${code && html`<div class="code"><p>At <b>${code.address ?? "the address of this machine"}</b> type <strong>${code.code.slice(0, 3)} ${code.code.slice(3)}</strong>, or scan:</p><div class="qr" dangerouslySetInnerHTML=${{ __html: code.picture ?? "" }}></div></div>`}
        <h3>Connected</h3>
        ${state.devices.length === 0 ? html`<p>Nobody yet.</p>` : html`<ul>${state.devices.map((/** @type {any} */ d) => html`<li>${d.name || "a device"} may ${d.role}, seen ${d.seen_s} s ago <button type="button" onClick=${async () => set_state(await post("share/end", { id: d.id }))}>End</button></li>`)}</ul>`}`}
      <p class="acts"><button type="button" class="main" onClick=${() => dialog.current?.close()}>Close</button></p>
    </dialog>`;
}

/** The entry for a device that is not paired yet. @param {{done: () => void}} p */
export function Pair({ done }) {
  const [what, set_what] = useState("");
  const [digits, set_digits] = useState(location.pathname === "/pair" ? location.hash.slice(1) : "");
  const send = async (/** @type {any} */ e) => {
    e.preventDefault();
    try {
      await post("pair", { code: digits, name: new FormData(e.target).get("name") ?? "" });
      history.replaceState(null, "", "/floor");
      await who_am_i();
      done();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      set_what(`${error.problems[0]?.what ?? "the program does not answer"}. ${error.problems[0]?.fix ?? ""}`);
    }
  };
  return html`<main class="room pairing"><h1>Pair this device</h1><p>The owner of the project makes a code with Share.</p>
    <form onSubmit=${send}><label>Code <input name="code" inputmode="numeric" autocomplete="one-time-code" value=${digits} onInput=${(/** @type {any} */ e) => set_digits(e.target.value)} required /></label>
      <label>Name of this device <input name="name" placeholder="phone at the target" /></label>
      <button class="main">Pair</button></form>
    <p role="alert">${what}</p></main>`;
}
