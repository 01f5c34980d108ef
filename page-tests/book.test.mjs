// Book: the notebook is shown, saved and printed; a note with a photo comes into it; what changed is told and compared; templates, hand-over and card are there.
import assert from "node:assert/strict";
import { existsSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, test } from "node:test";
import { LAPTOP, PHONE, accessible, browser_path, close, open, project, serve, shots, terminal } from "./serve.mjs";

if (!browser_path) {
  if (process.env.CI) throw new Error("no browser of the Chromium family was found: install chromium");
  console.log("skipped: no browser of the Chromium family was found; install chromium, or set CHROMIUM to its path");
  process.exit(0);
}
process.env.ARCWRIGHT_BROWSER ??= browser_path;
after(close);

/** A photo of one red point, PNG. */
const PHOTO = Buffer.from("iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR4nGP4z8DwHwAFAAH/iZk9HQAAAABJRU5ErkJggg==", "base64");

/** What a button saves. */
async function saved(page, name) {
  const [file] = await Promise.all([page.waitForEvent("download", { timeout: 120000 }), page.getByRole("button", { name, exact: true }).click()]);
  return readFileSync(await file.path());
}

test("book: sections chosen, the notebook shown here, saved as HTML and as PDF", async (t) => {
  const folder = project(t, "bramble");
  const { address } = await serve(t, folder);
  const page = await open(t, address, "book", { ...LAPTOP, bypassCSP: false });
  for (const name of ["Feed", "Pictures", "Design choices"]) await page.getByRole("checkbox", { name, exact: true }).uncheck();
  await page.getByRole("button", { name: "Show it here" }).click();
  const frame = page.frameLocator("iframe.preview");
  await frame.getByRole("heading", { name: "Bramble Toss", exact: true }).waitFor();
  assert.equal(await frame.locator("section#pictures").count(), 0);
  assert.match(await frame.locator("section#verdicts").innerText(), /reach/);
  const html = (await saved(page, "Save as HTML")).toString();
  assert.match(html, /^<!DOCTYPE html>/);
  // The same as the terminal writes.
  terminal("book", folder, "--no-pdf", "--without", "feed,pictures,design");
  assert.equal(html, readFileSync(join(folder, "out/notebook.html"), "utf8"));
  const pdf = (await saved(page, "Save as PDF")).toString("latin1");
  assert.match(pdf, /^%PDF/);
  await page.screenshot({ path: join(shots, "book.png"), fullPage: true });
});

test("book: a note with a photo is written beside the project and stands in the notebook", async (t) => {
  const folder = project(t, "pebble");
  writeFileSync(join(folder, "point.png"), PHOTO);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "book", PHONE);
  await page.getByLabel("Day").fill("2026-02-14");
  await page.getByLabel("What it is").selectOption("decision");
  await page.getByLabel("About").fill("wheel / wide?");
  await page.getByLabel("Text", { exact: true }).fill("We took the wide wheel.\n\n<b>Not</b> the narrow one.");
  await page.getByLabel("Photos", { exact: true }).setInputFiles(join(folder, "point.png"));
  await page.getByLabel("What point.png shows").fill("The wheel");
  await page.getByRole("button", { name: "Add", exact: true }).click();
  await page.getByText("kept as notes/2026-02-14 decision wheel wide.txt").waitFor();
  assert.deepEqual(readdirSync(join(folder, "notes")).sort(), ["2026-02-14 The wheel.jpg", "2026-02-14 decision wheel wide.txt"]);
  await page.locator("ol.notes").getByText("We took the wide wheel.").waitFor();
  terminal("book", folder, "--no-pdf", "--sections", "decisions");
  const html = readFileSync(join(folder, "out/notebook.html"), "utf8");
  assert.match(html, /alt="The wheel"/);
  assert.match(html, /&lt;b&gt;Not&lt;\/b&gt; the narrow one/);
  // A second one of the same name takes nothing away.
  await page.getByLabel("Day").fill("2026-02-14");
  await page.getByLabel("What it is").selectOption("decision");
  await page.getByLabel("About").fill("wheel wide");
  await page.getByLabel("Text", { exact: true }).fill("Still.");
  await page.getByRole("button", { name: "Add", exact: true }).click();
  await page.getByText("kept as notes/2026-02-14 decision wheel wide (2).txt").waitFor();
  assert.ok(existsSync(join(folder, "notes/2026-02-14 decision wheel wide.txt")));
  await page.screenshot({ path: join(shots, "book-phone.png"), fullPage: true });
});

test("book: templates, hand-over and card are those of the terminal", async (t) => {
  const folder = project(t);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "book", { ...LAPTOP, bypassCSP: true });
  await page.getByRole("img", { name: /^side-plate/ }).first().waitFor();
  terminal("draw", folder);
  assert.deepEqual(await saved(page, "side-plate.dxf"), readFileSync(join(folder, "out/draw/side-plate.dxf")));
  terminal("hand", folder);
  await page.getByText("setpoints.csv", { exact: true }).click();
  assert.deepEqual(await saved(page, "Save setpoints.csv"), readFileSync(join(folder, "out/hand/setpoints.csv")));
  terminal("card", folder, "--no-pdf");
  assert.deepEqual(await saved(page, "Save the card as HTML"), readFileSync(join(folder, "out/card.html")));
  assert.deepEqual(await accessible(page), []);
  for (const width of [360, 1280, 2560]) {
    await page.setViewportSize({ width, height: 900 });
    await page.waitForTimeout(150);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert.ok(wide <= 0, `${wide} px too wide at ${width}`);
  }
  await page.screenshot({ path: join(shots, "book-wide.png"), fullPage: true });
});

test("book: a reason is given, stands in the list, and two states are compared as in the terminal", async (t) => {
  const folder = project(t);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "book", { ...LAPTOP, bypassCSP: true });
  const part = page.getByRole("region", { name: "What changed and why" });
  await part.getByText("Nothing was kept yet.").waitFor();
  const give = async (reason, answer) => {
    await part.getByLabel("Why is the project as it is now?").fill(reason);
    await part.getByRole("button", { name: "Keep the reason" }).click();
    await part.getByText(answer, { exact: true }).waitFor();
  };
  await give("the first idea", "kept as state 1");
  const file = join(folder, "arcwright.toml");
  writeFileSync(file, readFileSync(file, "utf8").replace('diameter = "96 mm"', 'diameter = "50 mm"'));
  // The change in the file is kept by itself; the reason comes later.
  await part.getByText("no reason given").waitFor();
  await give("<b>small</b> wheel from the shelf", "now the reason of state 2");
  const newest = part.locator("ol.notes li").first();
  await newest.getByText("<b>small</b> wheel from the shelf").waitFor();
  assert.match(await newest.innerText(), /wheel\.diameter 96 mm -> 50 mm/);
  const told = JSON.parse(terminal("history", folder, "--json"));
  assert.equal(told.states[1].reason, "<b>small</b> wheel from the shelf");
  for (const line of told.states[1].change.words.outcomes) assert.ok((await newest.innerText()).includes(line), line);
  await part.getByLabel("with this state").selectOption("2");
  await part.getByRole("button", { name: "Compare", exact: true }).click();
  const words = JSON.parse(terminal("history", folder, "--compare", "1", "--with", "2", "--json")).words;
  assert.ok(words.turned.length > 0);
  for (const [name, rows] of [["Verdicts that turned", words.turned], ["Setpoints", words.setpoints]]) {
    const table = part.getByRole("table", { name });
    await table.waitFor();
    const cells = await table.locator("tbody tr").evaluateAll((all) => all.map((r) => [...r.children].map((c) => c.textContent)));
    assert.deepEqual(cells, rows);
  }
  await part.getByRole("cell", { name: "50 mm" }).waitFor();
  assert.deepEqual(await accessible(page), []);
  await page.setViewportSize({ width: 360, height: 800 });
  await page.waitForTimeout(150);
  assert.ok((await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)) <= 0);
  await part.screenshot({ path: join(shots, "book-history.png") });
  // A demo has none, and says so.
  const demo = await serve(t, { demo: "pebble" });
  const other = await open(t, demo.address, "book");
  await other.getByText("A demo has no history").waitFor();
});
