// Floor and Pit without a robot: a rehearsal, files from outside, the check between matches.
import assert from "node:assert/strict";
import { existsSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, test } from "node:test";
import { LAPTOP, PHONE, browser_path, close, open, project, root, serve, shots, terminal } from "./serve.mjs";

if (!browser_path) {
  if (process.env.CI) throw new Error("no browser of the Chromium family was found: install chromium");
  console.log("skipped: no browser of the Chromium family was found; install chromium, or set CHROMIUM to its path");
  process.exit(0);
}
after(close);

const SMALL = { ...PHONE, viewport: { width: 360, height: 740 } };
const axe = readFileSync(join(root, "page-tests/node_modules/axe-core/axe.min.js"), "utf8");
const logged = (folder) => JSON.parse(terminal("floor", "list", "--json", "--in", folder) || '{"sessions":[]}').sessions.flatMap((s) => s.shots);
/** From its top: what sticks to the window's edge stands where it belongs. */
const picture = async (page, name) => {
  await page.evaluate(() => scrollTo(0, 0));
  await page.screenshot({ path: join(shots, `${name}.png`), fullPage: true });
};

/** What stands in the way of a reader, in light and dark and from 360 to 2560 pixels; a picture of each. */
async function looked_at(page, name) {
  const wrong = [];
  await page.evaluate(axe);
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    const found = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
    for (const v of found.violations) wrong.push(`${name}, ${colorScheme}: ${v.id}: ${v.nodes.slice(0, 3).map((n) => n.target.join(" ")).join(", ")}`);
    for (const width of [360, 1280, 2560]) {
      await page.setViewportSize({ width, height: 900 });
      await page.waitForTimeout(150);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      if (wide > 0) wrong.push(`${name} is ${wide} px too wide at ${width}`);
      await picture(page, `${name}-${width}-${colorScheme}`);
    }
  }
  await page.emulateMedia({ colorScheme: "light" });
  await page.setViewportSize(LAPTOP.viewport);
  assert.deepEqual(wrong, []);
}

/** Goes on with Tab until what has the focus is as it should be. */
async function tab_to(page, is, most = 150) {
  for (let i = 0; i < most; i++) {
    await page.keyboard.press("Tab");
    if (await page.evaluate(is)) return;
  }
  assert.fail(`nothing by Tab that is ${is}`);
}

test("from an empty folder: a project, a rehearsal to the sign to stop, the truth, and the card on one page", async (t) => {
  const folder = mkdtempSync(join(tmpdir(), "arcwright-empty-"));
  t.after(() => rmSync(folder, { recursive: true, force: true, maxRetries: 20, retryDelay: 100 }));
  const { address } = await serve(t, { demo: "pebble", cwd: folder });
  const page = await open(t, address, "floor", { ...LAPTOP, bypassCSP: true });
  // What the page asks for beside is slow to come: the rehearsal begins while it is on its way.
  const slowly = async (/** @type {any} */ route) => {
    if (is_slow) await new Promise((done) => setTimeout(done, 2000));
    await route.continue();
  };
  let is_slow = true;
  await page.route("**/floor/next*", slowly);
  await page.getByLabel("Name of the folder").fill("own");
  await page.getByRole("button", { name: "Keep as my project" }).click();
  await page.locator(".log-it").waitFor();
  // The rehearsal begins by the keyboard alone.
  await tab_to(page, () => document.activeElement?.textContent === "Practise without a robot");
  await page.keyboard.press("Enter");
  await tab_to(page, () => document.activeElement?.tagName === "SELECT");
  await page.keyboard.press("ArrowDown");
  await page.keyboard.press("ArrowDown");
  await tab_to(page, () => document.activeElement?.getAttribute("type") === "number");
  await page.keyboard.type("7");
  await page.keyboard.press("Enter");
  await page.locator(".rehearsing").waitFor();
  await page.getByText("Nothing thrown yet").waitFor();
  is_slow = false;
  await tab_to(page, () => document.activeElement?.textContent === "Throw one, as it says");
  await page.keyboard.press("Enter");
  await page.getByText("shot 1 from").waitFor();
  await page.locator("svg.opening .was.last").waitFor();
  await page.getByRole("button", { name: "Throw until the next advice" }).click();
  await page.waitForFunction(() => /shot [2-9]/.test(document.querySelector(".did")?.textContent ?? ""));
  await page.getByRole("button", { name: "Throw until the stop sign" }).click();
  await page.locator(".next.stop").waitFor({ timeout: 180_000 });
  await page.getByRole("button", { name: /Prove it with 20/ }).click();
  await page.locator(".truth table").waitFor({ timeout: 120_000 });
  assert.match(await page.locator(".truth").textContent(), /of 20 went in/);
  await page.locator(".aside table").waitFor();
  await looked_at(page, "rehearsal");
  await page.getByRole("link", { name: "To the card" }).click();
  await page.getByText(/Setpoints learned from \d+ shots of a rehearsal/).waitFor();
  const learned = await page.locator(".card table").first().locator("tbody tr td:nth-child(3)").allTextContents();
  const said = JSON.parse(terminal("floor", "fit", "--look", "--rehearsal", "--json", "--in", join(folder, "own")));
  assert.deepEqual(learned, said.setpoints.map((s) => `${Math.round((s.setpoint_radps * 30) / Math.PI)} rpm`));
  const pdf = (await page.pdf({ preferCSSPageSize: true })).toString("latin1");
  assert.equal(pdf.match(/\/Type\s*\/Page[^s]/g)?.length, 1);
  await page.emulateMedia({ media: "print" });
  assert.ok(await page.getByText("No robot throws").isVisible(), "paper says that it was a rehearsal");
  await picture(page, "card-rehearsed-print");
  await page.emulateMedia({ media: "screen" });
  // Not one of these shots is a real one.
  assert.ok(existsSync(join(folder, "own/rehearsal.db")) && !existsSync(join(folder, "own/floor.db")));
  await page.getByRole("button", { name: "Back to the real shots" }).click();
  await page.getByText("Setpoints by the design").waitFor();
  await page.getByRole("link", { name: "Floor" }).click();
  await page.locator(".log-it").waitFor();
  assert.equal(await page.locator(".shots li").count(), 0);
});

test("a demo is rehearsed on a telephone, and a page that is loaded anew goes on", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "floor", SMALL);
  await page.getByRole("button", { name: "Build a hidden machine" }).tap();
  await page.locator(".rehearsing").waitFor();
  await page.getByRole("button", { name: "Throw one, as it says" }).tap();
  await page.getByText("shot 1 from").waitFor();
  await page.getByText("Throw something else").tap();
  await page.getByLabel("From where and how fast").fill("nowhere 3000 rpm");
  await page.getByRole("button", { name: "Throw it" }).tap();
  await page.locator(".trouble").waitFor();
  await page.getByLabel("From where and how fast").fill("near 2900 rpm");
  await page.getByRole("button", { name: "Throw it" }).tap();
  await page.getByText("shot 2 from near at 2900 rpm").waitFor();
  await page.reload();
  await page.getByText("2 of 60 throws").waitFor();
  await page.locator(".shots li").nth(1).waitFor();
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  assert.ok(wide <= 0, `${wide} px too wide`);
});

const TABLE = "spot,rpm,result,missed\nfar,3490,in,\nnear,2900,long,25\nfar,banana,in,\n";

test("a table is dropped, looked at with its refused row, mended, taken and taken back", async (t) => {
  const folder = project(t);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "floor", { ...LAPTOP, bypassCSP: true });
  await page.locator(".log-it").waitFor();
  const dropped = await page.evaluateHandle((text) => {
    const all = new DataTransfer();
    all.items.add(new File([text], "shots.csv", { type: "text/csv" }));
    return all;
  }, TABLE);
  await page.dispatchEvent("main", "dragover", { dataTransfer: dropped });
  await page.locator(".incoming.over").waitFor();
  await page.dispatchEvent("main", "drop", { dataTransfer: dropped });
  const refused = page.locator(".fates tr.refused");
  await refused.waitFor();
  assert.match(await refused.textContent(), /^4.*refused.*banana/);
  assert.equal(await page.locator(".fates tr.take").count(), 2);
  assert.equal(logged(folder).length, 0, "a look writes nothing");
  await page.locator(".columns summary").click();
  await page.getByLabel("missed is taken for").selectOption("miss beyond");
  await page.getByText("1 to mend").waitFor();
  await page.getByLabel("unit of missed").selectOption("cm");
  await page.getByText("1 to mend").waitFor({ state: "detached" });
  await looked_at(page, "incoming");
  await page.getByRole("button", { name: "Take these 2" }).click();
  await page.getByText("2 shots written.").waitFor();
  assert.deepEqual(logged(folder).map((s) => s.outcome), ["in", "long"]);
  assert.equal(logged(folder)[1].miss.along_m, 0.25);
  await page.locator(".incoming").getByRole("button", { name: "Undo" }).click();
  await page.waitForFunction(() => /taken back/.test(document.querySelector(".incoming")?.textContent ?? ""));
  assert.equal(logged(folder).length, 0);
});

/** A log of a wheel: falls to 3200 of 3400 rpm, two seconds apart. */
function record(throws, fall = 200, head = "t (s),flywheel,goal (rpm)") {
  let text = `${head}\n`;
  for (let i = 0; i < 100 * (throws + 1); i++) {
    const t = 0.02 * i;
    const since = (t + 1e-9) % 2;
    const rpm = 3400 - (t >= 2 && since < 1 ? fall * Math.exp(-since / 0.25) : 0);
    text += `${t.toFixed(2)},${rpm.toFixed(1)},3400\n`;
  }
  return text;
}
const file = (name, text) => ({ name, mimeType: "text/csv", buffer: Buffer.from(text) });

test("a robot's log and a film are chosen, mended by the keyboard, and brought to the shots", async (t) => {
  const folder = project(t);
  for (let i = 0; i < 3; i++) terminal("floor", "log", "far", "3400", "in", "--in", folder);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "floor");
  await page.locator(".shots li").nth(2).waitFor();
  await tab_to(page, () => document.activeElement?.getAttribute("type") === "file");
  await page.locator(".file input").setInputFiles(file("robot.csv", record(3)));
  await page.getByText("nothing says its unit").waitFor();
  await tab_to(page, () => document.activeElement?.getAttribute("aria-label") === "unit of flywheel");
  await page.keyboard.type("rpm");
  await page.getByText("first with first").waitFor();
  await page.getByLabel("first with first, whatever the times say").check();
  await page.getByText("3 to take").waitFor();
  await picture(page, "incoming-log");
  await tab_to(page, () => document.activeElement?.textContent === "Take these 3");
  await page.keyboard.press("Enter");
  await page.getByText("3 shots written.").waitFor();
  assert.ok(logged(folder).every((s) => Math.abs((s.before_radps * 30) / Math.PI - 3400) < 5));
  // Points of a film: a parabola at 240 frames a second, 400 px to the metre.
  let points = "frame,x,y\n";
  for (let i = 0; i < 60; i++) points += `${i},${(40 + 400 * 4 * (i / 240)).toFixed(1)},${(700 - 400 * (5 * (i / 240) - 4.9 * (i / 240) ** 2)).toFixed(1)}\n`;
  await page.locator(".file input").setInputFiles(file("film.csv", points));
  await page.getByLabel("Scale, for pixels").waitFor();
  await page.getByLabel("Scale, for pixels").fill("1 m = 400 px");
  await page.getByLabel("Frames a second").fill("240");
  await page.getByText("speed at the first point").waitFor();
  await page.getByLabel("The shot that was filmed").selectOption("3");
  await page.locator(".fates tr").nth(1).waitFor();
  await picture(page, "incoming-film");
  // What is no table says so.
  await page.locator(".file input").setInputFiles(file("shots.xlsx", "PK\u0003\u0004abc"));
  await page.getByText("spreadsheet's own file").waitFor();
});

test("pit: five throws typed here and a robot's log tell whether anything has changed", async (t) => {
  const folder = project(t);
  for (let k = 0; k < 4; k++) for (const spot of ["near 2900", "middle 3150", "far 3490"]) terminal("floor", "log", ...spot.split(" "), "long", `${1 + 3 * (k % 2)}cm`, "left", `${k % 3}cm`, "--anyway", "--in", folder);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "pit", { ...LAPTOP, bypassCSP: true });
  await page.getByRole("button", { name: "Start the check" }).click();
  for (let i = 1; i <= 5; i++) {
    await page.getByLabel("far", { exact: true }).check({ force: true });
    await page.getByLabel("More, in words").fill(`long ${50 + i}cm`);
    await page.locator(".log-it").click();
    await page.getByText(`${i} of 5`).waitFor();
  }
  await page.locator(".answer.changed").waitFor({ timeout: 60_000 });
  assert.match(await page.locator(".answer").textContent(), /Something has changed: shots 13 to 17.*What to do, the least work first/);
  await page.getByLabel("The log of now").setInputFiles(file("now.csv", record(8, 420, "t (s),flywheel (rpm),goal (rpm)")));
  await page.getByLabel("An earlier one").setInputFiles(file("then.csv", record(8, 200, "t (s),flywheel (rpm),goal (rpm)")));
  await page.getByRole("button", { name: "Compare" }).click();
  await page.getByText("now.csv against then.csv").waitFor();
  for (const box of await page.locator(".ticks input").all()) await box.check();
  await page.getByText("All done.").waitFor();
  await looked_at(page, "pit");
  const pdf = (await page.pdf({ preferCSSPageSize: true })).toString("latin1");
  assert.equal(pdf.match(/\/Type\s*\/Page[^s]/g)?.length, 1, "paper holds the card alone");
});
