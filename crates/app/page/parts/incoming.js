// @ts-check
/** A file from outside: what it is, which column is what, what would be taken and what not and why, and then the taking. */
import { html } from "htm/preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { Refused, post } from "/lib/server.js";
import { fetch_all, shots } from "/lib/floor.js";
import { letters, too_large } from "/lib/file.js";
import { Picture, Table } from "/parts/picture.js";
import { Sign } from "/parts/sign.js";

const KINDS = [["shots", "a table of shots"], ["telemetry", "a robot's log"], ["film", "points of a film"]];
const SIGNS = /** @type {any} */ ({ take: "holds", there: "unknown", refused: "fails" });

/** @param {{what: string, fix: string} | null | undefined} f */
const Why = (f) => (f ? html`<span class="why"><b>${f.what}</b> ${f.fix}</span>` : null);

export function Incoming() {
  const [file, set_file] = useState(/** @type {{name: string, bytes: string} | null} */ (null));
  const [how, set_how] = useState(/** @type {any} */ ({}));
  const [look, set_look] = useState(/** @type {any} */ (null));
  const [said, set_said] = useState("");
  const [over, set_over] = useState(false);
  const [busy, set_busy] = useState(false);
  const newest = useRef(0);
  const head = useRef(/** @type {HTMLElement | null} */ (null));

  const choose = async (/** @type {FileList | undefined | null} */ list) => {
    const chosen = list?.[0];
    if (!chosen) return;
    set_look(null);
    set_said(too_large(chosen) || (list.length > 1 ? `One file at a time: this is ${chosen.name}.` : ""));
    if (too_large(chosen)) return set_file(null);
    set_how({});
    set_file({ name: chosen.name, bytes: await letters(chosen) });
  };
  /** @param {boolean} take */
  const ask = async (take) => {
    if (!file) return;
    const number = ++newest.current;
    set_busy(true);
    try {
      const found = await post("floor/incoming", { ...file, ...how, maps: Object.entries(how.maps ?? {}).map(([theirs, m]) => ({ theirs, .../** @type {any} */ (m) })), take });
      if (number !== newest.current) return;
      set_look(found);
      if (take && found.taken > 0) set_said(`${found.taken === 1 ? "1 shot" : `${found.taken} shots`} written.`);
      if (take) fetch_all();
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      if (number !== newest.current) return;
      set_look(null);
      set_said(e.problems[0] ? `${e.problems[0].what}. ${e.problems[0].fix}` : "The program does not answer.");
    } finally {
      if (number === newest.current) set_busy(false);
    }
  };
  useEffect(() => {
    if (!file) return;
    const timer = setTimeout(() => ask(false), look ? 350 : 0);
    return () => clearTimeout(timer);
  }, [file, how]);
  useEffect(() => {
    if (file) head.current?.focus();
  }, [file]);
  // A file may be dropped anywhere in the room; the browser would open it else.
  useEffect(() => {
    const stays = (/** @type {DragEvent} */ e) => {
      if (!e.dataTransfer?.types.includes("Files")) return;
      e.preventDefault();
      set_over(true);
    };
    const leaves = (/** @type {DragEvent} */ e) => e.relatedTarget === null && set_over(false);
    const drops = (/** @type {DragEvent} */ e) => {
      if (!e.dataTransfer?.files.length) return;
      e.preventDefault();
      set_over(false);
      choose(e.dataTransfer.files);
    };
    addEventListener("dragover", stays);
    addEventListener("dragleave", leaves);
    addEventListener("drop", drops);
    return () => {
      removeEventListener("dragover", stays);
      removeEventListener("dragleave", leaves);
      removeEventListener("drop", drops);
    };
  }, []);

  const back = async () => {
    try {
      set_said((await post("floor/undo", {})).says);
      fetch_all();
      ask(false);
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      set_said(e.problems[0]?.what ?? "");
    }
  };
  const set = (/** @type {any} */ change) => set_how({ ...how, ...change });
  return html`<section class=${`incoming ${over ? "over" : ""}`} aria-label="Bring in a file">
    <h2>Bring in a file</h2>
    <p class="drop">Drop a table of shots, a robot's log or the points of a film (CSV) anywhere here, or <label class="file">choose one <input type="file" accept=".csv,.tsv,.txt,text/csv,text/plain" onChange=${(/** @type {any} */ e) => { choose(e.target.files); e.target.value = ""; }} /></label> Nothing is taken before you have seen it.</p>
    <p aria-live="polite">${said} ${look?.taken > 0 && html`<button type="button" onClick=${back}>Undo</button>`}</p>
    ${file && html`<div class="look" aria-busy=${busy}>
      <h3 tabindex="-1" ref=${head}>${file.name}</h3>
      ${!look && busy && html`<p class="quiet">reading…</p>`}
      ${look && html`<${Looked} look=${look} how=${how} set=${set} />
        <div class="acts">
          <button type="button" class="main" disabled=${busy || look.take === 0 || look.taken > 0} onClick=${() => ask(true)}>${look.taken > 0 ? "Taken" : look.take > 0 ? `Take ${look.take === 1 ? "it" : `these ${look.take}`}` : "Nothing to take"}</button>
          <button type="button" onClick=${() => { set_file(null); set_look(null); set_said(""); }}>Close</button>
          ${(look.refused_count > 0 || how.anyway) && html`<label class="tick"><input type="checkbox" checked=${how.anyway ?? false} onChange=${(/** @type {any} */ e) => set({ anyway: e.target.checked })} /> take it anyway, where it is only unlikely or differs</label>`}
        </div>`}
    </div>`}
  </section>`;
}

/** @param {{look: any, how: any, set: (change: any) => void}} p */
function Looked({ look, how, set }) {
  const rest = [look.there > 0 && `${look.there} there already`, `${look.refused_count} refused`].filter(Boolean).join(", ");
  return html`<fieldset class="pick"><legend>This is</legend>${KINDS.map(([k, words]) => html`<label><input type="radio" name="kind" checked=${look.kind === k} onChange=${() => set({ kind: k, maps: {} })} /> <span>${words}</span></label>`)}</fieldset>
    ${look.refused && html`<p class="refused"><${Why} ...${look.refused} /></p>`}
    ${look.kind === "telemetry" && html`<${OfLog} how=${how} set=${set} />`}
    ${look.kind === "film" && html`<${OfFilm} how=${how} set=${set} />`}
    ${look.rows && html`<p><b>${look.taken > 0 ? `${look.taken} taken` : `${look.take} to take`}</b>, ${rest}.</p><${Rows} table=${look.rows} taken=${look.taken > 0} />`}
    <${Columns} look=${look} how=${how} set=${set} />
    ${look.notes.map((/** @type {string} */ n) => html`<p class="quiet">${n}</p>`)}
    ${look.found && html`<details open=${!look.rows}><summary>What stands in it</summary>
      ${look.found.rows.length > 0 ? html`<${Table} head=${look.found.head} rows=${look.found.rows} caption="What stands in the file" />` : html`<p>No throw was found in it.</p>`}
      ${look.says.map((/** @type {string} */ s) => html`<p class="quiet">${s}</p>`)}
      ${look.picture && html`<${Picture} name="file" svg=${look.picture} />`}</details>`}`;
}

/** @param {{table: {head: string[], rows: any[]}, taken: boolean}} p */
function Rows({ table, taken }) {
  return html`<div class="scroll rows" tabindex="0" role="region" aria-label="What becomes of each row"><table class=${`fates ${table.head.length === 2 ? "lines" : ""}`}>
    <caption class="away">What becomes of each row</caption>
    <thead><tr>${table.head.map((h) => html`<th scope="col">${h}</th>`)}<th scope="col">becomes</th></tr></thead>
    <tbody>${table.rows.map((r) => html`<tr class=${r.fate}>${r.cells.map((/** @type {string} */ c, /** @type {number} */ i) => (i === 0 ? html`<th scope="row">${c}</th>` : html`<td>${c}</td>`))}
      <td><${Sign} status=${SIGNS[r.fate]} words=${false} /> ${r.fate === "take" ? (taken ? "taken" : "to take") : r.fate === "there" ? "there already" : "refused"}${r.why ? html`: <${Why} ...${r.why} />` : ""}</td></tr>`)}</tbody>
  </table></div>`;
}

/** Which column is what, to correct. @param {{look: any, how: any, set: (change: any) => void}} p */
function Columns({ look, how, set }) {
  const wrong = look.columns.filter((/** @type {any} */ c) => c.wrong).length;
  const map = (/** @type {string} */ theirs, /** @type {any} */ change) => {
    const own = look.columns.find((/** @type {any} */ c) => c.theirs === theirs);
    const before = how.maps?.[theirs] ?? { ours: own?.ours ?? "-", unit: "" };
    set({ maps: { ...how.maps, [theirs]: { ...before, ...change } } });
  };
  return html`<details class="columns" open=${wrong > 0 || look.refused !== null}><summary>Columns${wrong > 0 ? html` <span class="count">${wrong} to mend</span>` : ""}</summary>
    <div class="scroll" tabindex="0" role="region" aria-label="Columns"><table>
      <thead><tr><th scope="col">in the file</th><th scope="col">taken for</th><th scope="col">unit</th></tr></thead>
      <tbody>${look.columns.map((/** @type {any} */ c) => {
        const ours = how.maps?.[c.theirs]?.ours ?? c.ours ?? "-";
        const units = look.ours.find((/** @type {any} */ o) => o.name === ours)?.units ?? [];
        return html`<tr><th scope="row">${c.theirs}</th>
          <td><select aria-label=${`${c.theirs} is taken for`} value=${ours} onChange=${(/** @type {any} */ e) => map(c.theirs, { ours: e.target.value, unit: "" })}><option value="-">not taken</option>${look.ours.map((/** @type {any} */ o) => html`<option value=${o.name}>${o.name}</option>`)}</select></td>
          <td>${units.length > 0 && html`<select aria-label=${`unit of ${c.theirs}`} value=${how.maps?.[c.theirs]?.unit ?? ""} onChange=${(/** @type {any} */ e) => map(c.theirs, { unit: e.target.value })}><option value="">${c.unit ? `as read: ${c.unit}` : "as in the cells"}</option>${units.map((/** @type {string} */ u) => html`<option value=${u}>${u}</option>`)}</select>`}</td></tr>
          ${c.wrong && html`<tr><td colspan="3" class="said-wrong"><${Why} ...${c.wrong} /></td></tr>`}`;
      })}</tbody></table></div></details>`;
}

/** @param {{label: string, name: string, place: string, how: any, set: (change: any) => void}} p */
const Field = ({ label, name, place, how, set }) => html`<label>${label} <input value=${how[name] ?? ""} placeholder=${place} onInput=${(/** @type {any} */ e) => set({ [name]: e.target.value || undefined })} /></label>`;

/** How the throws of a log go with the shots. @param {{how: any, set: (change: any) => void}} p */
function OfLog({ how, set }) {
  const sessions = shots.value?.sessions ?? [];
  return html`<div class="acts fields">
    <label>Goes with the shots of <select value=${how.session ?? ""} onChange=${(/** @type {any} */ e) => set({ session: e.target.value ? Number(e.target.value) : undefined })}><option value="">all sessions</option>${sessions.map((/** @type {any} */ s) => html`<option value=${s.session}>session ${s.session}${s.name ? `, ${s.name}` : ""}</option>`)}</select></label>
    <${Field} label="Its clock showed 0 at" name="zero_at" place="found from the shots" how=${how} set=${set} />
    <${Field} label="Most time between throw and shot" name="within" place="15 s" how=${how} set=${set} />
    <label class="tick"><input type="checkbox" checked=${how.in_order ?? false} onChange=${(/** @type {any} */ e) => set({ in_order: e.target.checked })} /> first with first, whatever the times say</label></div>`;
}

/** How points of a film are read, and whose they are. @param {{how: any, set: (change: any) => void}} p */
function OfFilm({ how, set }) {
  const list = [...(shots.value?.says ?? [])].reverse().slice(0, 60);
  const hz = (/** @type {any} */ e) => set({ frames_hz: Number(e.target.value) > 0 ? Number(e.target.value) : undefined });
  return html`<div class="acts fields">
    <label>The shot that was filmed <select value=${how.shot ?? ""} onChange=${(/** @type {any} */ e) => set({ shot: e.target.value ? Number(e.target.value) : undefined })}><option value="">only look</option>${list.map((/** @type {any} */ l) => html`<option value=${l.shot}>${l.shot}: ${l.place} ${l.seen}</option>`)}</select></label>
    <${Field} label="Scale, for pixels" name="scale" place="1 m = 412 px" how=${how} set=${set} />
    <${Field} label="Height of the first point" name="height" place="0.62 m" how=${how} set=${set} />
    <label>Frames a second, for frame numbers <input class="short" type="number" min="1" step="any" value=${how.frames_hz ?? ""} placeholder="240" onInput=${hz} /></label>
    <label>y grows <select value=${how.y ?? ""} onChange=${(/** @type {any} */ e) => set({ y: e.target.value || undefined })}><option value="">down for pixels, else up</option><option value="down">down</option><option value="up">up</option></select></label></div>`;
}
