// @ts-check
/** Files that the page hands to the person. */

/** How long a file stays to be fetched: a slow machine may begin late. */
const KEPT_MS = 60000;

/** @param {string} name @param {Blob} blob */
export function save(name, blob) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), KEPT_MS);
}

/** The kind of a file, by its ending. @param {string} name */
const kind = (name) => ({ pdf: "application/pdf", png: "image/png", svg: "image/svg+xml", html: "text/html", dxf: "image/vnd.dxf" })[/** @type {"pdf"} */ (name.split(".").at(-1))] ?? "text/plain";

/** @param {string} name @param {string} base64 */
export const blob_of = (name, base64) => new Blob([Uint8Array.from(atob(base64), (c) => c.charCodeAt(0))], { type: kind(name) });

/** @param {string} name @param {string} text */
export const text_of = (name, text) => new Blob([text], { type: `${kind(name)};charset=utf-8` });
