// @ts-check
/** Numbers in the project's units, as the program writes them; a test of the page holds the two together. */
import { project } from "/lib/state.js";

/** @param {number} x @param {number} usual */
function decimals(x, usual) {
  const size = Math.abs(x);
  if (!(size >= 1e-9 && size < 1)) return usual;
  return Math.min(12, Math.max(usual, Math.floor(-Math.log10(size)) + 2));
}

/** Exactly between two, the even one is written, as the program does. @param {number} x @param {number} digits */
function fixed(x, digits) {
  const MORE = 30;
  const long = x.toFixed(digits + MORE);
  const cut = long.slice(0, -MORE).replace(/\.$/, "");
  const is_between = /^50*$/.test(long.slice(-MORE));
  return is_between && Number(cut.at(-1)) % 2 === 0 ? cut : x.toFixed(digits);
}

/** @param {number} x @param {number} digits */
function plain(x, digits) {
  if (Math.abs(x) >= 1e7) return x.toExponential(3);
  let text = fixed(x, digits);
  if (text.includes(".")) text = text.replace(/0+$/, "").replace(/\.$/, "");
  return text === "-0" ? "0" : text;
}

/**
 * A value as text in a shown unit.
 * @param {number} value SI
 * @param {{symbol?: string, unit?: string, si_ratio: number, shift: number, decimals: number}} unit
 */
export function in_unit(value, unit) {
  const x = value / unit.si_ratio + unit.shift;
  const symbol = unit.symbol ?? unit.unit;
  const text = plain(x, decimals(x, unit.decimals));
  return symbol ? `${text} ${symbol}` : text;
}

/**
 * A value as text.
 * @param {number | null | undefined} value SI
 * @param {string} dimension a name in `shown_in` of the project
 */
export function say(value, dimension) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "-";
  const row = project.value?.shown_in[dimension];
  if (!row) return String(value);
  return in_unit(value, row.large_from !== null && Math.abs(value) >= row.large_from ? row.large : row.small);
}

/** A chance in per cent: only what never misses is "100 %", and only what never happens "0 %". @param {number} frac */
export const chance = (frac) => (frac > 0 && frac < 5e-4 ? "under 0.1 %" : frac < 1 && frac > 1 - 5e-4 ? "over 99.9 %" : say(frac, "ratio"));

/** A sentence begins with a capital. @param {string} text */
export const sentence = (text) => text.charAt(0).toUpperCase() + text.slice(1);
