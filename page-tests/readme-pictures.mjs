// Writes the two pictures of the page in the README: `node page-tests/readme-pictures.mjs`, from a built program.
import { execFileSync } from "node:child_process";
import { mkdirSync, mkdtempSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { browser, close, program, root, serve_in } from "./serve.mjs";

const after = [];
const t = { after: (act) => after.push(act) };
const folder = mkdtempSync(join(tmpdir(), "arcwright-readme-"));
const out = join(root, "docs/pictures");
mkdirSync(out, { recursive: true });
const run = (...args) => execFileSync(program, args, { encoding: "utf8" });
try {
  const own = join(folder, "lantern");
  run("new", own, "--from", "lantern");
  // From within the folder, so that no path of this machine is on the picture.
  const { address } = await serve_in(t, own);
  const picture = async (room, ready) => {
    const context = await (await browser()).newContext({ viewport: { width: 1440, height: 820 }, colorScheme: "light" });
    const page = await context.newPage();
    await page.goto(address + room);
    await page.locator(ready).first().waitFor();
    await page.waitForFunction(() => !document.querySelector(".waiting") && !/working…|working it out|getting finer|throwing…/.test(document.body.textContent), null, { timeout: 120000 });
    const file = join(out, `page-${room}.png`);
    await page.screenshot({ path: file });
    await context.close();
    const size = statSync(file).size;
    console.log(`docs/pictures/page-${room}.png: ${size} bytes`);
    if (size > 250_000) throw new Error(`${room}.png is too large for a README`);
  };
  await picture("bench", ".handle");
  // A few shots, so that the floor has something to say.
  for (const shot of ["long 12cm left 5cm", "long 9cm", "in", "long 15cm right 4cm", "long 6cm", "in"]) run("floor", "log", "far", "3490", ...shot.split(" "), "--in", own);
  await picture("floor", ".next p");
} finally {
  for (const act of after.reverse()) await act();
  await close();
  rmSync(folder, { recursive: true, force: true, maxRetries: 20, retryDelay: 100 });
}
