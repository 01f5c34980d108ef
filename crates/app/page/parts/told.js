// @ts-check
/** A sentence of the program, in which names and keys stand between backticks. */
import { html } from "htm/preact";

/** @param {string} text */
export const told = (text) => text.split("`").map((part, i) => (i % 2 === 1 ? html`<b>${part}</b>` : part));
