// @ts-check
/** Files that a person drops or chooses, as the program takes them. */

/** As much as the program takes. */
const MOST_BYTES = 20e6;

/** Why a file cannot be sent, or empty. @param {File} file */
export const too_large = (file) => (file.size > MOST_BYTES ? `${file.name} has ${Math.round(file.size / 1e6)} MB, and the page takes 20 at most. Cut out the minutes that matter, or use the command line.` : "");

/** The bytes of a file, one letter for each: whatever its encoding, the program sees what stands on the disk. @param {File} file */
export async function letters(file) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  const step = 8192;
  let text = "";
  for (let i = 0; i < bytes.length; i += step) text += String.fromCharCode(...bytes.subarray(i, i + step));
  return text;
}
