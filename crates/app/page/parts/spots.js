// @ts-check
/** The spots: one more, another name, one less. */
import { html } from "htm/preact";
import { edit, project } from "/lib/state.js";
import { Quantity } from "/parts/quantity.js";

/** One more, like the last and a little farther. */
export function add_spot() {
  return edit([{ act: "add-spot", like: project.value.spots.length - 1 }]);
}

/** @param {{open: boolean}} p */
export function Spots({ open }) {
  const p = project.value;
  const rename = (/** @type {any} */ e, /** @type {number} */ i) => {
    const word = e.target.value.trim();
    if (word && word !== p.spots[i].name) edit([{ act: "word", key: `spot[${i}].name`, word }]);
    else e.target.value = p.spots[i].name;
  };
  return html`<details class="group" open=${open}><summary>Spots</summary>
    ${p.spots.map((/** @type {any} */ s, /** @type {number} */ i) => html`<fieldset class="one-spot" key=${s.name}><legend class="away">Spot ${s.name}</legend>
      <div class="line"><input class="name" aria-label=${`name of spot ${s.name}`} defaultValue=${s.name} onChange=${(/** @type {any} */ e) => rename(e, i)} />
        <button type="button" title="one more with the same values" aria-label=${`Copy spot ${s.name}`} onClick=${() => edit([{ act: "add-spot", like: i, distance_m: s.distance_m, name: `${s.name} again` }])}>Copy</button>
        <button type="button" disabled=${p.spots.length === 1} aria-label=${`Take out spot ${s.name}`} onClick=${() => edit([{ act: "remove-spot", spot: i }])}>Take out</button></div>
      ${p.quantities.filter((/** @type {any} */ q) => q.table === "spot[]" && q.index === i).map((/** @type {any} */ q) => html`<${Quantity} key=${q.key} q=${q} name=${q.name.replaceAll("_", " ")} />`)}
    </fieldset>`)}
    <p><button type="button" onClick=${add_spot}>+ spot</button></p>
    <p class="quiet">A spot with another name keeps what was learned: that goes by the distance. Its shots stay in the log under the name they were thrown from.</p></details>`;
}
