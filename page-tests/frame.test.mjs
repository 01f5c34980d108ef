// Room Frame: the rest of the machine, and the season.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, test } from "node:test";
import { LAPTOP, PHONE, accessible, browser_path, close, open, project, serve, shots, terminal } from "./serve.mjs";

if (!browser_path) {
  if (process.env.CI) throw new Error("no browser of the Chromium family was found: install chromium");
  console.log("skipped: no browser of the Chromium family was found; install chromium, or set CHROMIUM to its path");
  process.exit(0);
}
after(close);

const file_of = (folder) => readFileSync(join(folder, "arcwright.toml"), "utf8");
const flat = (text) => text.replaceAll("`", "").replace(/\s+/g, " ").trim();
const played = (page) => page.locator(".playing span", { hasText: /^1000 ways of \d+ matches each$/ }).waitFor({ timeout: 120000 });

test("a bushing on the flywheel shaft fails with the number that fails, and a ball bearing mends it", async (t) => {
  const folder = project(t);
  const before = file_of(folder);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "frame");
  const support = page.locator("#rotating").getByLabel("the wheel's shaft runs in");
  await support.waitFor();
  const row = page.locator("#rotating .verdicts li", { has: page.locator("b", { hasText: /^support$/ }) });
  assert.match(await row.textContent(), /holds/);
  await support.selectOption("bushing");
  await page.locator("#rotating .verdicts li.fails", { hasText: "MPa m/s" }).waitFor();
  // The page says what the terminal says, and the file has what the bushing asks for and keeps the bearing's as remarks.
  const said = JSON.parse(terminal("frame", "--json", folder)).verdicts.find((v) => v.check === "support");
  assert.equal(said.status, "fails");
  assert.ok(flat(await row.textContent()).includes(flat(said.why)));
  assert.ok(flat(await row.textContent()).includes("ball bearings"));
  assert.match(file_of(folder), /support = "bushing"/);
  assert.match(file_of(folder), /bushing = "acetal"/);
  assert.match(file_of(folder), /# rating = "3300 N"/);
  // It is among the verdicts of the whole machine, and counted in the strip.
  assert.match(await page.locator(".strip").textContent(), /1\s*fails/);
  await page.screenshot({ path: join(shots, "frame-bushing.png"), fullPage: true });
  await page.locator("#rotating").getByLabel("the wheel's shaft runs in").selectOption("ball");
  await page.locator("#rotating .verdicts li.holds", { hasText: "ball bearing" }).waitFor();
  assert.match(file_of(folder), /\nrating = "3300 N"/);
  await page.getByRole("button", { name: "Undo" }).click();
  await page.getByRole("button", { name: "Undo" }).click();
  await page.waitForFunction(() => document.querySelector(".tools button:nth-of-type(2)")?.disabled !== undefined);
  await page.waitForTimeout(300);
  assert.equal(file_of(folder), before);
});

test("a breaker that is too small is found before anything is written", async (t) => {
  const folder = project(t);
  const before = file_of(folder);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "frame");
  const field = page.locator(".quantity", { has: page.locator("#q-frame-power-breaker") }).locator(".number");
  await field.waitFor();
  await field.fill("8");
  await field.press("Enter");
  const row = page.locator("#power .verdicts li.fails", { hasText: "breaker" }).first();
  await row.waitFor();
  assert.match(await row.textContent(), /trips .* into the match/);
  assert.match(await row.textContent(), /To mend it/);
  assert.equal(file_of(folder), before);
  await page.getByRole("button", { name: "Put back" }).first().click();
  await page.locator("#power .verdicts li.holds", { hasText: "breaker" }).first().waitFor();
});

test("sideways drive or floor intake first: the season ranks them with ranges, as the terminal does", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "frame#season");
  await played(page);
  const said = JSON.parse(terminal("season", "--json", "--demo", "lantern", "--worlds", "1000"));
  const rows = await page.getByRole("region", { name: "Changes by points for each day of work" }).locator("tbody th").allTextContents();
  assert.deepEqual(rows, said.changes.map((c) => c.change));
  assert.ok(rows.indexOf("floor intake") < rows.indexOf("sideways drive"));
  const text = flat(await page.locator("#season").textContent());
  for (const words of [said.says, said.chance_says, said.ranges_say]) assert.ok(text.includes(flat(words)), words);
  assert.equal(await page.getByRole("region", { name: "Opening routine" }).locator("tbody tr").count(), said.opening.steps.length);
  await page.locator("#season svg.arcw").waitFor();
  await page.screenshot({ path: join(shots, "frame-laptop.png"), fullPage: true });
});

test("the season can be stopped, and is played again when a number of the table changes", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "frame");
  await page.locator(".playing").getByRole("button", { name: "Stop" }).click();
  await page.locator(".playing").getByRole("button", { name: "Play again" }).waitFor();
  assert.match(await page.locator(".playing").textContent(), /nothing played yet|40 ways|200 ways/);
  const field = page.locator(".quantity", { has: page.locator("#q-season-piece-points") }).locator(".number");
  await field.fill("6");
  await field.press("Enter");
  await played(page);
  const now = Number(await page.locator("#season .chance .big").first().textContent());
  const before = JSON.parse(terminal("season", "--json", "--demo", "lantern")).points.mean;
  assert.ok(now > 1.3 * before, `${now} ${before}`);
});

test("two bases are compared side by side in figures and words", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "frame");
  await page.locator("#drive").getByLabel("sideways").check();
  const said = JSON.parse(terminal("frame", "--json", "--demo", "lantern", "--compare", "sideways"));
  await page.locator("#drive .lead").waitFor();
  assert.equal(flat(await page.locator("#drive .lead").textContent()), flat(said.buys));
  const rows = await page.getByRole("region", { name: "Drive bases in figures" }).locator("tbody tr").evaluateAll((all) => all.map((r) => [...r.children].map((c) => c.textContent)));
  assert.deepEqual(rows, said.table.rows);
  await page.locator("#drive svg.arcw").filter({ hasText: "sideways, 4 motors" }).waitFor();
});

test("by keyboard alone: to the room, to a number, and back", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "brief");
  await page.locator("nav.rooms a", { hasText: "Frame" }).focus();
  await page.keyboard.press("Enter");
  await page.locator("#power .verdicts li").first().waitFor();
  await page.locator("#q-frame-power-breaker").focus();
  for (let i = 0; i < 3; i++) await page.keyboard.press("ArrowLeft");
  await page.locator(".changes", { hasText: "frame power breaker" }).waitFor();
  await page.locator("#rotating").getByLabel("the wheel's shaft runs in").focus();
  await page.keyboard.press("ArrowDown");
  await page.locator("#rotating .verdicts li.fails", { hasText: "plain bushing" }).waitFor();
});

test("what a file does not describe is named and added with usual values", async (t) => {
  const folder = project(t, "pebble");
  const { address } = await serve(t, folder);
  const page = await open(t, address, "frame");
  await page.getByText("says nothing of its frame yet").waitFor();
  await page.getByRole("button", { name: "Add a drive base" }).click();
  await page.locator("#power").getByRole("button", { name: "Add it" }).click();
  await page.locator("#power .verdicts li", { hasText: "breaker" }).first().waitFor();
  assert.match(file_of(folder), /\[frame\.power\]\s+breaker = "40 A"/);
  await page.locator("#rotating").getByRole("button", { name: "Add it" }).click();
  await page.locator("#rotating .verdicts li", { hasText: "support" }).first().waitFor();
  await page.locator("#season").getByRole("button", { name: "Add it" }).click();
  await page.getByRole("button", { name: "+ change" }).click();
  await page.getByRole("button", { name: "+ part" }).click();
  await page.locator("summary", { hasText: "Part: battery" }).waitFor();
  await played(page);
  await page.getByRole("region", { name: "Changes by points for each day of work" }).locator("tbody th", { hasText: "floor intake" }).waitFor();
  assert.ok(!terminal("check", folder).includes("Problem"));
});

test("on a phone and in both schemes: nothing is too wide, and axe finds nothing", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const wrong = [];
  for (const [scheme, size] of [["light", PHONE], ["dark", LAPTOP]]) {
    const page = await open(t, address, "frame", { ...size, colorScheme: scheme, bypassCSP: true });
    await page.locator("#power .verdicts li").first().waitFor();
    await played(page);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    if (wide > 0) wrong.push(`${wide} px too wide in ${scheme}`);
    await page.screenshot({ path: join(shots, `frame-${scheme === "light" ? "phone" : "dark"}.png`), fullPage: true });
    wrong.push(...(await accessible(page)).map((w) => `${scheme}: ${w}`));
  }
  assert.deepEqual(wrong, []);
});
