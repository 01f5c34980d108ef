// @ts-check
/** A picture with its data as a table, to save as SVG, PNG or CSV. */
import { html } from "htm/preact";
import { useState } from "preact/hooks";
import { blob_of, save } from "/lib/save.js";
import { sentence } from "/lib/say.js";
import { told } from "/parts/told.js";

/** Pixels to a length of one of the picture. */
const SCALE = 2;
/** @param {string} name @param {string} svg */
async function save_png(name, svg) {
  const image = new Image();
  const url = URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" }));
  try {
    await new Promise((done, failed) => {
      image.onload = done;
      image.onerror = () => failed(new Error(`the picture ${name} could not be drawn`));
      image.src = url;
    });
    const canvas = document.createElement("canvas");
    canvas.width = image.naturalWidth * SCALE;
    canvas.height = image.naturalHeight * SCALE;
    const pen = canvas.getContext("2d");
    if (!pen) return;
    pen.fillStyle = "#fbfaf6";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.drawImage(image, 0, 0, canvas.width, canvas.height);
    // At once: `toBlob` waits for the page to be idle, a second and more.
    save(name, blob_of(name, canvas.toDataURL("image/png").split(",")[1]));
  } finally {
    URL.revokeObjectURL(url);
  }
}

/** @param {(string|number)[][]} rows */
const csv = (rows) => rows.map((r) => r.map((c) => (/[",\n]/.test(String(c)) ? `"${String(c).replaceAll('"', '""')}"` : c)).join(",")).join("\r\n") + "\r\n";

/**
 * @param {{name: string, svg: any, table?: {head: string[], rows: (string|number)[][]}, old?: boolean, children?: any}} p
 */
export function Picture({ name, svg, table, old = false, children }) {
  const [shown, set_shown] = useState(false);
  if (svg === undefined) return html`<figure class="picture waiting" aria-busy="true"><p>drawing…</p></figure>`;
  if (svg === null) return null;
  if (typeof svg !== "string") return html`<figure class="picture"><p class="refused"><b>${told(sentence(svg.refused?.what ?? ""))}.</b> ${told(sentence(svg.refused?.fix ?? ""))}.</p></figure>`;
  return html`<figure class=${`picture ${old ? "old" : ""}`} aria-busy=${old}>
    <div class="sheet" tabindex="0" role="group" aria-label=${`picture ${name}`}><div class="inner"><div dangerouslySetInnerHTML=${{ __html: svg }}></div>${children}</div></div>
    <figcaption>
      ${table && html`<button type="button" aria-expanded=${shown} onClick=${() => set_shown(!shown)}>Numbers</button>`}
      <button type="button" onClick=${() => save(`${name}.svg`, new Blob([svg], { type: "image/svg+xml" }))}>SVG</button>
      <button type="button" onClick=${() => save_png(`${name}.png`, svg)}>PNG</button>
      ${table && html`<button type="button" onClick=${() => save(`${name}.csv`, new Blob([csv([table.head, ...table.rows])], { type: "text/csv" }))}>CSV</button>`}
    </figcaption>
    ${shown && table && html`<${Table} ...${table} caption=${`Numbers of the picture ${name}`} />`}
  </figure>`;
}

/** @param {{head: string[], rows: (string|number)[][], caption?: string}} p */
export function Table({ head, rows, caption }) {
  return html`<div class="scroll" tabindex="0" role="region" aria-label=${caption ?? "table"}><table>
    ${caption && html`<caption class="away">${caption}</caption>`}
    <thead><tr>${head.map((h) => html`<th scope="col">${h}</th>`)}</tr></thead>
    <tbody>${rows.map((r) => html`<tr>${r.map((c, i) => (i === 0 ? html`<th scope="row">${c}</th>` : html`<td>${c}</td>`))}</tr>`)}</tbody>
  </table></div>`;
}
