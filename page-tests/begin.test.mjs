// From an empty folder to a launcher that serves every spot.
import assert from "node:assert/strict";
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, test } from "node:test";
import { LAPTOP, PHONE, accessible, browser_path, close, open, project, serve, serve_in, shots, terminal } from "./serve.mjs";

if (!browser_path) {
  if (process.env.CI) throw new Error("no browser of the Chromium family was found: install chromium");
  console.log("skipped: no browser of the Chromium family was found; install chromium, or set CHROMIUM to its path");
  process.exit(0);
}
after(close);

const SMALL = { ...PHONE, viewport: { width: 360, height: 740 } };

function empty(t) {
  const folder = mkdtempSync(join(tmpdir(), "arcwright-begin-"));
  t.after(() => rmSync(folder, { recursive: true, force: true, maxRetries: 20, retryDelay: 100 }));
  return folder;
}
const fails = (page) => page.evaluate(() => Number([...document.querySelectorAll(".strip .sign.fails")].map((n) => n.nextElementSibling?.textContent)[0] ?? 0));
const checked = (page, more) => page.waitForFunction((more) => !!document.querySelector(".strip .sign.holds") && (more === undefined || !!document.querySelector(".strip .sign.fails") === more), more, { timeout: 60000 });

/** Answers the questions in the browser. */
async function answer(page) {
  await page.getByRole("link", { name: "Begin your own" }).click();
  await page.getByLabel("What is it called?").fill("Quay");
  // The radio lies over its card, so the card is what one taps.
  await page.locator('input[name="piece"][value="perforated"]').check();
  await page.locator('input[name="target"][value="box"]').check();
  await page.getByLabel("How high is the rim?").fill("1.1");
  await page.getByLabel("How wide is the opening?").fill("640 mm");
  await page.getByLabel("Distance").last().fill("3.2 m");
  await page.getByLabel("Height", { exact: true }).fill("620 mm");
}

for (const [name, size] of [["laptop", LAPTOP], ["phone", SMALL]]) {
  test(`${name}: the demo is at work at once, and a few answers make a project of one's own`, async (t) => {
    const folder = empty(t);
    const { address } = await serve_in(t, folder);
    const page = await open(t, address, "", size);
    await page.locator("h1", { hasText: "Bench" }).waitFor();
    await page.locator(".launcher-view svg").first().waitFor();
    await answer(page);
    await page.screenshot({ path: join(shots, `begin-${name}.png`), fullPage: true });
    // A height without its unit is told beside the question, and nothing is written.
    await page.getByRole("button", { name: "Make the project" }).click();
    await page.locator("#wrong-rim_height").waitFor();
    assert.deepEqual(readdirSync(folder), []);
    await page.getByLabel("How high is the rim?").fill("1.1 m");
    await page.getByRole("button", { name: "Make the project" }).click();
    await page.locator("h1", { hasText: "Bench" }).waitFor();
    await page.locator(".handle").first().waitFor();
    const text = readFileSync(join(folder, "arcwright.toml"), "utf8");
    for (const part of ['rim_height = "1.1 m"', 'height = "620 mm"', 'distance = "3.2 m"', "# usual: ", "eye protection"]) assert.ok(text.includes(part), part);
    assert.match(terminal("check", folder), /0 fail/);
    await checked(page);
    assert.equal(await fails(page), 0);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert.equal(wide, 0);
    await page.screenshot({ path: join(shots, `begun-${name}.png`), fullPage: true });
    // The program started again shows the project, not the demo.
    const again = await serve_in(t, folder);
    const other = await open(t, again.address, "brief", size);
    await other.getByText("Begin your own").waitFor({ state: "detached" });
    assert.match(await other.locator(".lead").textContent(), /Perforated piece/);
  });
}

test("the guided start never writes over a project", async (t) => {
  const folder = empty(t);
  const { address } = await serve_in(t, folder);
  const page = await open(t, address, "brief");
  await answer(page);
  await page.getByLabel("How high is the rim?").fill("1.1 m");
  terminal("new", join(folder, "other"), "--from", "pebble");
  const { renameSync } = await import("node:fs");
  renameSync(join(folder, "other/arcwright.toml"), join(folder, "arcwright.toml"));
  const before = readFileSync(join(folder, "arcwright.toml"), "utf8");
  await page.getByRole("button", { name: "Make the project" }).click();
  await page.getByText("exists and is left as it is").waitFor();
  assert.equal(readFileSync(join(folder, "arcwright.toml"), "utf8"), before);
  await page.getByLabel("in a new folder below it").check();
  await page.getByLabel("Name of the folder").fill("mine");
  await page.getByRole("button", { name: "Make the project" }).click();
  await page.locator("h1", { hasText: "Bench" }).waitFor();
  assert.ok(existsSync(join(folder, "mine/arcwright.toml")));
});

test("bench: a handle is dragged with the mouse until every spot holds, the page says which, and once more by keyboard", async (t) => {
  const folder = empty(t);
  terminal("new", join(folder, "own"), "--piece", "perforated", "--rim", "1.1 m", "--spot", "1.2 m", "--spot", "3 m");
  const file = join(folder, "own/arcwright.toml");
  // The rules ask for a steep way in, so a flat throw fails.
  writeFileSync(file, readFileSync(file, "utf8").replace("# volley = 3", 'entry_angle = "45 deg"\n# volley = 3'));
  const { address } = await serve(t, join(folder, "own"));
  const page = await open(t, address, "bench");
  await page.locator(".handle").first().waitFor();
  await checked(page, false);
  const tilt = page.locator('.handle[data-key="setting.tilt"]');
  // Nothing that was asked while dragging is on its way any more.
  let under_way = 0;
  const counts = (r) => r.url().endsWith("/work") && /-quick"/.test(r.postData() ?? "");
  page.on("request", (r) => counts(r) && under_way++);
  for (const end of ["requestfinished", "requestfailed"]) page.on(end, (r) => counts(r) && under_way--);
  const answered = async () => {
    for (let still = 0; still < 3; still = under_way === 0 ? still + 1 : 0) await page.waitForTimeout(40);
  };
  const now = async () => Number.parseFloat(await tilt.getAttribute("aria-valuetext"));
  const from = await now();
  const grip = async () => {
    const b = await tilt.locator(".knob").boundingBox();
    return [b.x + b.width / 2, b.y + b.height / 2];
  };
  // Where does the handle go when the value rises? A small drag tells.
  const drag = async (dx, dy, until) => {
    const [x, y] = await grip();
    await page.mouse.move(x, y);
    await page.mouse.down();
    for (let i = 1; i <= 40 && !(await until()); i++) await page.mouse.move(x + dx * i, y + dy * i);
    await page.mouse.up();
  };
  const most = Number(await tilt.getAttribute("aria-valuemax"));
  const at_end = async () => Math.abs(Number(await tilt.getAttribute("aria-valuenow")) - most) < 1e-6;
  await drag(4, 4, at_end);
  if (!(await at_end())) await drag(-4, -4, at_end);
  assert.ok((await now()) > from + 5, `${await now()} from ${from}`);
  await checked(page, true);
  // Each verdict that fails says what it is about and which handle would do.
  await page.locator(".fails .helps button").first().waitFor({ timeout: 120000 });
  const words = await page.locator(".fails .helps").allTextContents();
  assert.ok(words.every((w) => /→|No single handle/.test(w)), words.join("; "));
  await page.screenshot({ path: join(shots, "bench-fails.png"), fullPage: true });
  // By keyboard until nothing fails.
  await tilt.focus();
  for (let i = 0; i < 30 && (await fails(page)) > 0; i++) {
    await page.keyboard.press("ArrowDown");
    await answered();
  }
  await checked(page, false);
  const held = await now();
  assert.ok(held < 25, `${held}`);
  // By mouse: out again, and back until nothing fails.
  await drag(4, 4, at_end);
  if (!(await at_end())) await drag(-4, -4, at_end);
  await checked(page, true);
  const back = async () => {
    await answered();
    return (await fails(page)) === 0;
  };
  await drag(-2, -2, back);
  if (!(await back())) await drag(2, 2, back);
  await answered();
  await checked(page, false);
  await page.getByRole("button", { name: "Keep in the file" }).click();
  await page.locator(".changes").waitFor({ state: "detached" });
  assert.match(terminal("check", join(folder, "own")), /0 fail/);
});

test("brief: spots come, go and are renamed, a piece is chosen, a limit is added and taken out, all of it undone", async (t) => {
  const folder = project(t);
  const file = join(folder, "arcwright.toml");
  const before = readFileSync(file, "utf8");
  const text = () => readFileSync(file, "utf8");
  const { address } = await serve(t, folder);
  const page = await open(t, address, "brief");
  await page.locator(".field .spot").first().waitFor();
  const spots = (n) => page.waitForFunction((n) => document.querySelectorAll(".field .spot").length === n, n);
  // A value that is not kept yet stays with its spot.
  const far = page.locator('.field .spot[aria-label="distance of spot far"]');
  await far.focus();
  await page.keyboard.press("ArrowUp");
  await page.getByRole("button", { name: "+ spot" }).first().click();
  await spots(4);
  assert.match(text(), /name = "spot 4"/);
  const name = page.getByLabel("name of spot spot 4");
  await name.fill("post");
  await name.press("Enter");
  await page.getByLabel("name of spot post").waitFor();
  await page.getByRole("button", { name: "Take out spot near" }).click();
  await spots(3);
  assert.ok(!text().includes('name = "near"') && text().includes("# distances: wheel axle to near rim"));
  assert.equal(await far.getAttribute("aria-valuetext"), "3.61 m");
  // Keyboard: the chooser is radios, arrows move in it.
  await page.locator('.chooser input[name="kind-of-piece"]:checked').focus();
  await page.keyboard.press("ArrowRight");
  await page.getByText("Take the usual solid piece").waitFor();
  assert.ok(!text().includes('kind = "solid"'), "looking changes nothing");
  await page.keyboard.press("ArrowLeft");
  await page.keyboard.press("ArrowLeft");
  await page.getByRole("button", { name: "Take the usual hollow piece" }).click();
  await page.waitForFunction(() => /Hollow piece/.test(document.querySelector(".lead")?.textContent ?? ""));
  assert.ok(text().includes("# before: holes = 38") && text().includes("# usual: 38 mm to 250 mm"));
  await page.getByRole("button", { name: "take out ceiling" }).waitFor({ state: "detached" });
  await page.locator(".add-one").first().getByRole("button", { name: "Add" }).click();
  await page.getByRole("button", { name: "take out ceiling" }).waitFor();
  assert.match(text(), /ceiling = "4 m"/);
  await page.getByRole("button", { name: "take out ceiling" }).click();
  await page.getByRole("button", { name: "take out ceiling" }).waitFor({ state: "detached" });
  assert.match(text(), /# ceiling = "4 m"/);
  await page.locator('input[name="kind-of-target"]').nth(1).check();
  await page.waitForFunction(() => /round opening/.test(document.querySelector(".lead")?.textContent ?? ""));
  await page.screenshot({ path: join(shots, "brief-edited.png"), fullPage: true });
  const undo = page.getByRole("button", { name: "Undo" });
  for (let i = 0; i < 7; i++) {
    const was = text();
    await undo.click();
    for (let k = 0; k < 100 && text() === was; k++) await page.waitForTimeout(30);
  }
  assert.equal(text(), before);
});

test("an edit over somebody else's spots is refused, and of another part goes on top", async (t) => {
  const folder = project(t);
  const file = join(folder, "arcwright.toml");
  const { address } = await serve(t, folder);
  const ask = async (path, body) => {
    const reply = await fetch(`${address}api/v1/${path}`, body ? { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) } : {});
    return { status: reply.status, body: await reply.json() };
  };
  const { revision } = (await ask("project")).body;
  assert.equal((await ask("project/edit", { edits: [{ act: "remove-spot", spot: 0 }], revision })).status, 200);
  const text = readFileSync(file, "utf8");
  const late = await ask("project/edit", { edits: [{ act: "remove-spot", spot: 0 }], revision });
  assert.deepEqual([late.status, late.body.keys], [409, ["spot"]]);
  // The place in the list is another spot now.
  const moved = await ask("project/edit", { changes: [{ key: "spot[1].offset", value: 0.2 }], revision });
  assert.equal(moved.status, 409);
  assert.equal(readFileSync(file, "utf8"), text);
  assert.equal((await ask("project/edit", { edits: [{ act: "unset", key: "limits.fuse" }], revision })).status, 200);
  assert.match(readFileSync(file, "utf8"), /# fuse = "40 A"/);
  assert.equal((await ask("project/edit", { edits: [{ act: "explode" }], revision })).status, 422);
});

test("two designs side by side go by the same random numbers", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "bench");
  await page.locator(".handle").first().waitFor();
  const asked = [];
  page.on("request", (r) => r.url().endsWith("/work") && asked.push(JSON.parse(r.postData() ?? "{}")));
  await page.getByRole("button", { name: "Pin what is here as A" }).click();
  const field = page.locator(".quantity:has(#q-setting-reach) input.number");
  await field.fill("75");
  await field.press("Enter");
  const rows = () => page.locator(".side-by-side tbody tr").evaluateAll((rows) => rows.map((r) => [...r.children].map((c) => c.textContent)));
  await page.waitForFunction(() => {
    const cells = [...document.querySelectorAll(".side-by-side tbody td")].map((c) => c.textContent);
    // B as it stood before the change is complete too: wait for the changed one.
    const differs = [...document.querySelectorAll(".side-by-side tbody tr")].some((r) => r.children[1].textContent !== r.children[2].textContent);
    return differs && cells.every((c) => c !== "…" && c !== "-");
  }, null, { timeout: 90000 });
  const table = await rows();
  assert.equal(table.length, 3);
  assert.ok(table.some((r) => r[1] !== r[2]), JSON.stringify(table));
  const scatters = asked.filter((a) => a.want.includes("scatter"));
  assert.ok(scatters.some((a) => a.changes.length === 0 && a.throws === 16384), "A is thrown as often as B");
  assert.ok(scatters.every((a) => a.seed === undefined), "one seed for both");
  await page.evaluate(() => window.scrollTo(0, document.querySelector(".side-by-side").offsetTop - 60));
  await page.screenshot({ path: join(shots, "side-by-side.png") });
  // The same design on both sides differs by nothing at all: common random numbers.
  await page.getByRole("button", { name: "Pin what is here as A" }).click();
  await page.waitForFunction(() => [...document.querySelectorAll(".side-by-side tbody tr")].length === 3 && [...document.querySelectorAll(".side-by-side tbody tr")].every((r) => r.lastElementChild.textContent === "+0 %"), null, { timeout: 90000 });
});

test("work is counted: coarse first, exact when it stops, and what is overtaken is dropped", async (t) => {
  const { address } = await serve(t, { demo: "pebble" });
  const page = await open(t, address, "bench");
  await page.locator("#q-setting-tilt").waitFor();
  await page.waitForFunction(() => document.querySelectorAll("[aria-busy=true]").length === 0, null, { timeout: 60000 });
  const sent = [];
  let quick_now = 0;
  let quick_most = 0;
  const body = (r) => JSON.parse(r.postData() ?? "{}");
  page.on("request", (r) => {
    if (!r.url().endsWith("/work")) return;
    sent.push({ ...body(r), of: r });
    if (body(r).line?.endsWith("-quick")) quick_most = Math.max(quick_most, ++quick_now);
  });
  const ended = [];
  const done = async (r, how) => {
    if (!r.url().endsWith("/work")) return;
    if (body(r).line?.endsWith("-quick")) quick_now--;
    ended.push({ number: body(r).number, how, status: how === "done" ? (await r.response())?.status() : 0 });
  };
  page.on("requestfinished", (r) => done(r, "done"));
  page.on("requestfailed", (r) => done(r, "dropped"));
  const slider = page.locator("#q-setting-tilt");
  const box = await slider.boundingBox();
  const moves = 80;
  await page.mouse.move(box.x + box.width * 0.3, box.y + box.height / 2);
  await page.mouse.down();
  // Two strokes with a pause, so that the first one's scatter is under way when the second begins.
  for (let i = 0; i < moves / 2; i++) await page.mouse.move(box.x + box.width * (0.3 + i / 200), box.y + box.height / 2);
  await page.waitForFunction(() => /rough|finer/.test(document.body.textContent), null, { timeout: 60000 });
  await page.waitForTimeout(700);
  for (let i = 0; i < moves / 2; i++) await page.mouse.move(box.x + box.width * (0.5 + i / 200), box.y + box.height / 2);
  await page.mouse.up();
  const value = Number(await slider.inputValue());
  await page.waitForFunction(() => !/getting finer|throwing…/.test(document.body.textContent), null, { timeout: 90000 });
  const quick = sent.filter((s) => s.line.endsWith("-quick"));
  assert.ok(quick.length <= moves, `${quick.length} quick requests for ${moves} moves`);
  assert.equal(quick_most, 1, "one quick request at a time, the newest waiting");
  assert.ok(Math.abs(quick.at(-1).changes.find((c) => c.key === "setting.tilt").value - value) < 1e-9, "the last picture is of where it ended");
  assert.ok(quick.every((s) => s.unsearched), "no search while it moves");
  const scatters = sent.filter((s) => s.want.includes("scatter"));
  const throws = scatters.map((s) => s.throws);
  assert.equal(throws[0], 1024);
  assert.equal(throws.at(-1), 16384, "exact when it stops");
  // One coarse scatter for each time the hand rests, never one for each move; the exact one only where it rested longest.
  assert.ok(throws.filter((n) => n === 16384).length <= 2 && throws.length < moves / 4, `${throws}`);
  const last = scatters.at(-1).number;
  // Its reply may be on the page before the test has been told of it.
  for (let i = 0; i < 50 && !ended.some((e) => e.number === last); i++) await page.waitForTimeout(100);
  assert.ok(ended.some((e) => e.number === last && e.status === 200));
  // What was overtaken was given up, by the page or by the program.
  for (const s of scatters.slice(0, -1)) {
    const end = ended.find((e) => e.number === s.number);
    assert.ok(end, `request ${s.number} is still on its way`);
  }
  t.diagnostic(`${moves} moves: ${quick.length} pictures, scatters of ${throws.join(", ")} throws, ${ended.filter((e) => e.how === "dropped" || e.status === 409).length} dropped`);
});

test("the guided start and the edited brief are accessible, in light and dark", async (t) => {
  const wrong = [];
  for (const colorScheme of ["light", "dark"]) {
    const { address } = await serve_in(t, empty(t));
    for (const size of [LAPTOP, SMALL]) {
      const page = await open(t, address, "brief#begin", { ...size, colorScheme, bypassCSP: true });
      await page.getByLabel("What is it called?").waitFor();
      await page.locator(".field .spot").first().waitFor();
      wrong.push(...(await accessible(page)).map((w) => `${colorScheme}: ${w}`));
      await page.screenshot({ path: join(shots, `begin-${size.viewport.width}-${colorScheme}.png`), fullPage: true });
      await page.context().close();
    }
  }
  assert.deepEqual(wrong, []);
});
