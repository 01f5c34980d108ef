// The room Feed: the loads are played, the worst is looked at, what helps is ranked and written into the project.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, test } from "node:test";
import Ajv from "ajv/dist/2020.js";
import { LAPTOP, PHONE, accessible, browser, browser_path, close, open, project, serve, shots, terminal } from "./serve.mjs";

if (!browser_path) {
  if (process.env.CI) throw new Error("no browser of the Chromium family was found: install chromium");
  console.log("skipped: no browser of the Chromium family was found; install chromium, or set CHROMIUM to its path");
  process.exit(0);
}
after(close);

const LONG = 180000;
const file_of = (folder) => readFileSync(join(folder, "arcwright.toml"), "utf8");
const played = (page) => page.locator(".headline").waitFor({ timeout: LONG });
const idle = (page) => page.waitForFunction(() => document.querySelector(".headline") && !document.querySelector(".running"), null, { timeout: LONG });
const shares = (text) => text.match(/in ([\d.]+) \(([\d.]+) to ([\d.]+)\)/).slice(1).map(Number);

test("the worst load is shown, what helps is ranked, and applying the best lowers the curve with the interval to prove it", async (t) => {
  const folder = project(t);
  const before = file_of(folder);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "feed");
  await played(page);
  await idle(page);
  const [was, low, high] = shares(await page.locator(".headline").textContent());
  assert.ok(was > 40 && low < was && was < high, `${low} ${was} ${high}`);
  // The same loads as the terminal's.
  const said = terminal("feed", folder, "--json");
  const survey = JSON.parse(said).survey;
  assert.equal(Math.round(survey.waits[1].loads.frac * 100), was);
  // The worst first.
  await page.getByRole("button", { name: "Show me the worst" }).click();
  await page.locator(".stage[data-painted]").waitFor({ timeout: 60000 });
  assert.equal(await page.locator(".replay h3").textContent(), `Load ${survey.worst.load}`);
  await page.getByRole("button", { name: "Pause" }).click();
  const slider = page.getByLabel("Moment of the load");
  await slider.fill(await slider.getAttribute("max"));
  await page.getByText("Forces as lines").click();
  const words = await page.locator(".moment-words").textContent();
  assert.match(words, /At [\d.]+ s: pieces? .* press.*the stirrer stands/);
  // The words and the table say the same: whoever is named presses on something.
  const rows = await page.locator(".told tbody tr").allTextContents();
  assert.ok(rows.length > 3 && rows.some((r) => r.includes("the stirrer")), rows.join("; "));
  await page.screenshot({ path: join(shots, "feed-worst.png"), fullPage: true });
  // What helps.
  await page.getByRole("button", { name: "Play what might help" }).click();
  await page.locator("table.remedies").waitFor({ timeout: LONG });
  const ranked = await page.locator("table.remedies tbody tr").evaluateAll((all) => all.map((r) => [...r.children].map((c) => c.textContent)));
  assert.ok(ranked.length >= 5 && ranked.some((r) => r[5] === "helps") && ranked.some((r) => r[5] === "not established"), JSON.stringify(ranked));
  await page.getByRole("button", { name: "Apply: let the stalled stirrer turn back (reverse = true)" }).click();
  await page.locator(".changed-feed").waitFor({ timeout: LONG });
  await idle(page);
  const [now] = shares(await page.locator(".headline").textContent());
  const change = await page.locator(".changed-feed").textContent();
  const points = change.match(/([\d.-]+) points of a hundred less \(([\d.-]+) to ([\d.-]+)\)/).slice(1).map(Number);
  assert.ok(points[1] > 20 && points[0] > points[1] && points[0] < points[2] && change.includes("It helps"), change);
  assert.ok(now < 12, `${now}`);
  assert.match(await page.locator("figure.picture svg").first().textContent(), /before the change/);
  assert.equal(file_of(folder), before.replace('speed = "48 rpm"\ntorque = "1 N m"\n', 'speed = "48 rpm"\ntorque = "1 N m"\nreverse = true\n'));
  await page.screenshot({ path: join(shots, "feed-applied.png"), fullPage: true });
  // And taken back.
  await page.getByRole("button", { name: "Undo" }).click();
  await page.waitForFunction(() => [...document.querySelectorAll(".tools button")].some((b) => b.textContent === "Redo" && !b.disabled));
  assert.equal(file_of(folder), before);
});

test("what is broken off shows what there is, and the page goes on meanwhile", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "book");
  const state = async (path, body) => (await fetch(`${address}api/v1/feed${path}`, body ? { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) } : {})).json();
  await state("/play", { what: "remedies", loads: 65536 });
  await page.locator(".rooms").getByText("Feed").click();
  await page.locator(".running").waitFor();
  const reply = await page.evaluate(async () => (await fetch("/api/v1/project")).status);
  assert.equal(reply, 200);
  await page.screenshot({ path: join(shots, "feed-running.png") });
  await page.getByRole("button", { name: "Stop, and show what there is" }).click();
  await page.getByText("changes were not played").waitFor({ timeout: LONG });
  const now = await state("");
  const ajv = new Ajv({ strict: false });
  ajv.addSchema(await (await fetch(`${address}api/v1/openapi.json`)).json(), "api");
  const fits = ajv.getSchema("api#/components/schemas/FeedRoom");
  assert.ok(fits(now), ajv.errorsText(fits.errors));
  assert.ok(now.remedies.found.left.length > 10 && now.remedies.found.loads < 65536, JSON.stringify(now.remedies.found.left));
});

test("with the keyboard alone a load is chosen, played, turned and read; without motion where none is wanted", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "feed", { ...LAPTOP, reducedMotion: "reduce" });
  await played(page);
  await idle(page);
  const focus = async (want) => {
    for (let i = 0; i < 120; i++) {
      await page.keyboard.press("Tab");
      if (await page.evaluate((w) => document.activeElement?.matches(w), want)) return;
    }
    assert.fail(`Tab does not reach ${want}`);
  };
  await focus(".replay button.main");
  await page.keyboard.press("Enter");
  await page.locator(".stage[data-painted]").waitFor({ timeout: 60000 });
  await page.waitForTimeout(400);
  assert.equal(await page.getByLabel("Moment of the load").inputValue(), "0", "nothing moves by itself");
  await focus(".stage");
  const painted = () => page.locator(".stage").getAttribute("data-painted");
  const count = await painted();
  await page.waitForTimeout(300);
  assert.equal(await painted(), count, "nothing is drawn while nothing changes");
  await page.keyboard.press("ArrowLeft");
  await page.waitForFunction((c) => document.querySelector(".stage").dataset.painted > c, count);
  await page.keyboard.press(" ");
  await page.waitForFunction(() => Number(document.querySelector(".deck input[type=range]").value) > 5);
  await page.keyboard.press(" ");
  await page.getByRole("button", { name: "Play", exact: true }).waitFor();
});

test("only this room fetches the library of the third dimension, and without one the load is shown flat", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const asked = [];
  const page = await open(t, address, "bench");
  page.on("request", (r) => asked.push(r.url()));
  for (const room of ["brief", "bench", "floor", "pit", "book", "feed"]) await page.goto(address + room);
  await played(page);
  assert.ok(!asked.some((u) => u.includes("three")), "before a load is looked at it is not fetched");
  await idle(page);
  await page.getByRole("button", { name: "Show me the worst" }).click();
  await page.locator(".stage[data-painted]").waitFor({ timeout: 60000 });
  assert.ok(asked.some((u) => u.endsWith("three.core.min.js")));
  const context = await (await browser()).newContext(LAPTOP);
  t.after(() => context.close());
  const plain = await context.newPage();
  await plain.addInitScript(() => {
    const real = HTMLCanvasElement.prototype.getContext;
    HTMLCanvasElement.prototype.getContext = function (kind, ...more) {
      return kind.startsWith("webgl") ? null : real.call(this, kind, ...more);
    };
  });
  await plain.goto(`${address}feed`);
  await idle(plain);
  await plain.getByRole("button", { name: "Show me the worst" }).click();
  await plain.getByText("does not draw in three dimensions").waitFor();
  await plain.locator(".stage[data-painted]").waitFor();
  await plain.getByText("Forces as lines").click();
  await plain.locator(".stage").screenshot({ path: join(shots, "feed-flat.png") });
});

test("a property of the own pieces is measured from readings and written into the project", async (t) => {
  const folder = project(t);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "feed");
  await page.locator("#measure").waitFor({ timeout: 60000 });
  const fill = async (all) => {
    for (const [i, text] of all.entries()) await page.getByLabel(`Reading ${i + 1}`, { exact: true }).fill(text);
  };
  await fill(["17 deg", "16 deg", "85 deg"]);
  await page.getByRole("button", { name: "What do they give?" }).click();
  await page.getByText("cannot be the angle").waitFor({ timeout: 60000 });
  await fill(["17 deg", "16 deg", "18 deg", "17 deg"]);
  await page.getByRole("button", { name: "What do they give?" }).click();
  await page.locator("#measure .answer").waitFor({ timeout: LONG });
  const answer = await page.locator("#measure .answer").textContent();
  assert.match(answer, /0\.305\d* \(between 0\.2\d+ and 0\.3\d+\).*Student's t, 3\.182 for 3.*on the same 128 loads/);
  // As the terminal says it.
  const said = JSON.parse(terminal("measure", "friction", "17 deg", "16 deg", "18 deg", "17 deg", "--json", "--in", folder));
  for (const sentence of said.says) assert.ok(answer.includes(sentence), sentence);
  await page.locator("#measure").screenshot({ path: join(shots, "feed-measure.png") });
  await page.getByRole("button", { name: /Write it into the project/ }).click();
  await page.getByText("It stands in the project now").waitFor();
  assert.match(file_of(folder), /\[feed\][^[]*friction = 0\.306/);
});

test("the room is accessible, in light and dark, on laptop and phone", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const wrong = [];
  for (const [name, size] of [["laptop", LAPTOP], ["phone", PHONE]]) {
    for (const scheme of ["light", "dark"]) {
      const page = await open(t, address, "feed", { ...size, colorScheme: scheme, reducedMotion: "reduce", bypassCSP: true });
      await idle(page);
      await page.getByRole("button", { name: "Show me the worst" }).click();
      await page.locator(".stage[data-painted]").waitFor({ timeout: 60000 });
      if (name === "laptop" && scheme === "light") await page.getByRole("button", { name: "Play what might help" }).click();
      await page.locator("table.remedies").waitFor({ timeout: LONG });
      const slider = page.getByLabel("Moment of the load");
      await slider.fill(String(Math.round(Number(await slider.getAttribute("max")) * 0.8)));
      await page.waitForTimeout(300);
      for (const v of await accessible(page)) wrong.push(`${name}, ${scheme}: ${v}`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      if (wide > 0) wrong.push(`${name} is ${wide} px too wide`);
      await page.evaluate(() => scrollTo(0, 0));
      await page.screenshot({ path: join(shots, `feed-${name}-${scheme}.png`), fullPage: true });
      await page.context().close();
    }
  }
  assert.deepEqual(wrong, []);
});
