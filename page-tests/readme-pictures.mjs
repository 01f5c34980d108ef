// Writes the two pictures of the page in the README: `node page-tests/readme-pictures.mjs`, from a built program.
import { execFileSync } from "node:child_process";
import { mkdirSync, mkdtempSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { browser, close, program, root, serve } from "./serve.mjs";

const after = [];
const t = { after: (act) => after.push(act) };
const folder = mkdtempSync(join(tmpdir(), "arcwright-readme-"));
const out = join(root, "docs/images");
mkdirSync(out, { recursive: true });
const run = (...args) => execFileSync(program, args, { encoding: "utf8" });
try {
  run("new", join(folder, "lantern"), "--from", "lantern");
  // Shots of the rehearsal's own machine, so that the floor has something to say.
  for (const shot of ["long 12cm left 5cm", "long 9cm", "in", "long 15cm right 4cm", "long 6cm", "in"]) run("floor", "log", "far", "3490", ...shot.split(" "), "--in", join(folder, "lantern"));
  const { address } = await serve(t, join(folder, "lantern"));
  for (const [room, name, ready] of [["bench", "bench.png", "figure.picture[aria-busy=false] .sheet svg"], ["floor", "floor.png", "svg.opening"]]) {
    const context = await (await browser()).newContext({ viewport: { width: 1200, height: 760 }, colorScheme: "light" });
    const page = await context.newPage();
    await page.goto(address + room);
    await page.locator(ready).first().waitFor();
    await page.waitForFunction(() => !document.querySelector(".waiting") && !/working…|getting finer|throwing…/.test(document.body.textContent), null, { timeout: 120000 });
    await page.screenshot({ path: join(out, name) });
    const size = statSync(join(out, name)).size;
    console.log(`docs/images/${name}: ${size} bytes`);
    if (size > 250_000) throw new Error(`${name} is too large for a README`);
    await context.close();
  }
} finally {
  for (const act of after.reverse()) await act();
  await close();
  rmSync(folder, { recursive: true, force: true });
}
