// @ts-check
/** The notebook with its sections, and the team's own notes and photos. */
import { html } from "htm/preact";
import { useEffect, useState } from "preact/hooks";
import { Refused, get, post } from "/lib/server.js";
import { letters } from "/lib/file.js";
import { blob_of, save, text_of } from "/lib/save.js";
import { log_changes, project } from "/lib/state.js";
import { role } from "/parts/share.js";

/** @param {unknown} e */
export function words(e) {
  if (!(e instanceof Refused)) throw e;
  return e.problems.length ? e.problems.map((p) => `${p.key ? `${p.key}: ` : ""}${p.what}. ${p.fix}.`).join(" ") : "The program does not answer.";
}

/** What is asked of the program once at a time: state, and why it refused. */
export function useAsking() {
  const [busy, set_busy] = useState("");
  const [why, set_why] = useState("");
  /** @param {string} what @param {() => Promise<any>} act */
  const ask = async (what, act) => {
    set_busy(what);
    set_why("");
    try {
      await act();
    } catch (e) {
      set_why(words(e));
    }
    set_busy("");
  };
  return { busy, why, ask };
}

/** @param {{about: any}} p */
export function Notebook({ about }) {
  const [left_out, set_left_out] = useState(/** @type {string[]} */ ([]));
  const [paper, set_paper] = useState("a4");
  const [shown, set_shown] = useState("");
  const { busy, why, ask } = useAsking();
  const sections = about.chapters.filter((/** @type {any} */ c) => !left_out.includes(c.name)).map((/** @type {any} */ c) => c.name);
  const wanted = { sections: left_out.length ? sections : [], paper };
  const turn = (/** @type {string} */ name) => set_left_out(left_out.includes(name) ? left_out.filter((n) => n !== name) : [...left_out, name]);
  const fetch_it = async () => (await post("book", wanted)).html;
  const none = !sections.length || busy !== "";
  return html`<section aria-label="Notebook"><h2>Engineering notebook</h2>
    <p>Everything this project knows in one file: for judges, for next year's team, for yourselves. Numbers are those of the rooms.</p>
    <fieldset class="chapters"><legend>Sections</legend>${about.chapters.map((/** @type {any} */ c) => html`<label><input type="checkbox" checked=${!left_out.includes(c.name)} onChange=${() => turn(c.name)} /> ${c.title}</label>`)}</fieldset>
    <p class="acts"><button type="button" class="main" disabled=${none} onClick=${() => ask("show", async () => set_shown(await fetch_it()))}>Show it here</button>
      <button type="button" disabled=${none} onClick=${() => ask("html", async () => save("notebook.html", text_of("notebook.html", await fetch_it())))}>Save as HTML</button>
      ${role.value === "owner" && html`<button type="button" disabled=${none} onClick=${() => ask("pdf", async () => { const made = await post("book/pdf", wanted); save(made.name, blob_of(made.name, made.base64)); })}>Save as PDF</button>`}
      <label>Paper <select value=${paper} onChange=${(/** @type {any} */ e) => set_paper(e.target.value)}><option value="a4">A4</option><option value="letter">Letter</option></select></label></p>
    <p class="quiet" role="status">${busy ? "Putting it together; with a feed to play this may take half a minute." : role.value === "owner" ? "The PDF is printed by a browser on this machine." : "To have a PDF, open the HTML and print it from there."}</p>
    ${why && html`<p class="refused" role="alert">${why}</p>`}
    ${shown && html`<iframe class="preview" title="The notebook" sandbox="" srcdoc=${shown}></iframe>`}
  </section>`;
}

/** Physical: enough for paper, and small enough to send. */
const LONGER_SIDE_PX = 2000;

/** A photo as the notebook takes it: not larger than needed, the right way up. @param {File} file */
async function smaller(file) {
  try {
    const image = await createImageBitmap(file, { imageOrientation: "from-image" });
    const by = Math.min(1, LONGER_SIDE_PX / Math.max(image.width, image.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(image.width * by);
    canvas.height = Math.round(image.height * by);
    canvas.getContext("2d")?.drawImage(image, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise((/** @type {(b: Blob | null) => void} */ done) => canvas.toBlob(done, "image/jpeg", 0.85));
    if (blob) return letters(new File([blob], file.name));
  } catch {
    // The program says what is wrong with it.
  }
  return letters(file);
}

const today = () => {
  const d = new Date();
  return `${d.getFullYear()}-${String(d.getMonth() + 1).padStart(2, "0")}-${String(d.getDate()).padStart(2, "0")}`;
};

/** @param {{about: any, again: () => void}} p */
export function Notes({ about, again }) {
  const [photos, set_photos] = useState(/** @type {{file: File, caption: string}[]} */ ([]));
  const [kept, set_kept] = useState("");
  const { busy, why, ask } = useAsking();
  const add = (/** @type {any} */ e) => {
    e.preventDefault();
    const form = e.target;
    const said = Object.fromEntries(["day", "kind", "title", "text"].map((k) => [k, form.elements[k].value.trim()]));
    ask("add", async () => {
      const sent = [];
      for (const p of photos) sent.push({ caption: p.caption || "Photo", bytes: await smaller(p.file) });
      const done = await post("book/notes", { day: said.day, title: `${said.kind} ${said.title}`.trim(), text: said.text, photos: sent });
      set_kept(done.name);
      set_photos([]);
      form.reset();
      again();
    });
  };
  const choose = (/** @type {any} */ e) => set_photos([...e.target.files].map((file) => ({ file, caption: "" })));
  return html`<section aria-label="Notes"><h2>Notes and photos</h2>
    ${!about.may_add ? html`<p class="quiet">Notes lie beside a project of your own: keep the demo as a project first.</p>` : role.value === "view" ? html`<p class="quiet">This device may look on. To add notes, ask the owner for another code.</p>` : html`
    <form class="note" onSubmit=${add}>
      <div class="line"><label>Day <input name="day" type="date" required defaultValue=${today()} /></label>
        <label>What it is <select name="kind"><option value="">a note</option><option value="decision">a decision</option><option value="question">an open question</option></select></label>
        <label class="wide">About <input name="title" maxlength="60" placeholder="wheels" /></label></div>
      <label>Text <textarea name="text" rows="5" placeholder="What was tried, what happened, what was decided and what was left."></textarea></label>
      <label>Photos <input type="file" accept="image/*" multiple onChange=${choose} /></label>
      ${photos.map((p, i) => html`<label>What ${p.file.name} shows <input required value=${p.caption} onInput=${(/** @type {any} */ e) => set_photos(photos.map((q, k) => (k === i ? { ...q, caption: e.target.value } : q)))} /></label>`)}
      <p class="acts"><button class="main" disabled=${busy !== ""}>Add</button> <span class="quiet" role="status">${busy ? "sending…" : kept ? `kept as notes/${kept}` : "written as plain files into the folder notes; where photos were taken is not kept"}</span></p>
      ${why && html`<p class="refused" role="alert">${why}</p>`}
    </form>`}
    ${about.notes.length > 0 && html`<ol class="notes">${[...about.notes].reverse().map((/** @type {any} */ n) => html`<li><b>${n.day}</b> ${n.title} ${n.says.map((/** @type {string} */ s) => html`<p class="quiet">${s}</p>`)}</li>`)}</ol>`}
  </section>`;
}

/** Notes and sections, fetched anew when the project or the log changes. */
export function useAbout() {
  const [about, set_about] = useState(/** @type {any} */ (null));
  const [why, set_why] = useState("");
  const again = () => get("book/notes").then((a) => (set_about(a), set_why("")), (e) => set_why(words(e)));
  useEffect(() => {
    again();
  }, [log_changes.value, project.value.at]);
  return { about, why, again };
}
