// @ts-check
/** Signs for verdicts: shape and word, never colour alone. */
import { html } from "htm/preact";

/** @type {Record<string, [string, any]>} */
const SIGNS = {
  holds: ["holds", html`<path class="fill" d="M8 1a7 7 0 1 0 0 14A7 7 0 0 0 8 1Z" /><path class="cut" d="m4.8 8.3 2.200 2.200 4.300-4.800" />`],
  tight: ["tight", html`<path class="edge" d="M8 2a6 6 0 1 0 0 12A6 6 0 0 0 8 2Z" /><path class="fill" d="M8 2a6 6 0 0 0 0 12Z" />`],
  fails: ["fails", html`<path class="fill" d="M1.500 1.500h13v13h-13Z" /><path class="cut" d="m5 5 6 6m0-6-6 6" />`],
  unknown: ["unknown", html`<path class="edge dash" d="M8 2a6 6 0 1 0 0 12A6 6 0 0 0 8 2Z" /><path class="edge" d="M6.300 6.300c0-2.600 3.600-2.400 3.400-.2C9.600 7.500 8 7.400 8 9m0 2v.6" />`],
};

/** Where `words` is false the word stands beside it. @param {{status: string, words?: boolean}} p */
export function Sign({ status, words = true }) {
  const [word, shape] = SIGNS[status] ?? SIGNS.unknown;
  return html`<span class=${`sign ${status}`}>
    <svg viewBox="0 0 16 16" aria-hidden="true">${shape}</svg>
    ${words && html`<span>${word}</span>`}
  </span>`;
}
