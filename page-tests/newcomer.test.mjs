// What somebody who opens the page for the first time runs into.
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, test } from "node:test";
import { PHONE, browser_path, close, open, project, serve, terminal } from "./serve.mjs";

if (!browser_path) {
  if (process.env.CI) throw new Error("no browser of the Chromium family was found: install chromium");
  console.log("skipped: no browser of the Chromium family was found; install chromium, or set CHROMIUM to its path");
  process.exit(0);
}
after(close);

const file_of = (folder) => join(folder, "arcwright.toml");
const shots_of = (folder) => JSON.parse(terminal("floor", "list", "--json", "--in", folder)).sessions.flatMap((s) => s.shots).filter((s) => !s.taken_back);
/** Middle of something on the page. */
const middle = async (at) => {
  const b = await at.boundingBox();
  return [b.x + b.width / 2, b.y + b.height / 2];
};

test("brief: the target is dragged to scale, in the words of the file", async (t) => {
  const folder = project(t, "bramble");
  const { address } = await serve(t, folder);
  const page = await open(t, address, "brief");
  const value = (name) => page.locator(`.field .handle[aria-label="${name}"]`).getAttribute("aria-valuetext");
  const size = page.locator('.field .handle[aria-label="size of the opening"]');
  await size.waitFor();
  // The far end of a hoop is its top: up makes it larger, along the floor does nothing.
  const [x, y] = await middle(size.locator(".knob"));
  const floor = await page.locator(".field .ground").getAttribute("y1");
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (let i = 1; i <= 10; i++) await page.mouse.move(x + 4 * i, y - 2 * i);
  assert.equal(await page.locator(".field .ground").getAttribute("y1"), floor, "the scale stays while something is dragged");
  await page.mouse.up();
  assert.notEqual(await page.locator(".field .ground").getAttribute("y1"), floor);
  const wide = await value("size of the opening");
  assert.ok(Number.parseFloat(wide) > 560, wide);
  // The file gives the height of the middle: that is what is moved.
  await page.locator('.field .handle[aria-label="height of the opening\'s middle"]').press("PageUp");
  assert.equal(await value("height of the opening's middle"), "1.7 m");
  await page.getByRole("button", { name: "Keep in the file" }).click();
  await page.locator(".changes").waitFor({ state: "detached" });
  const text = readFileSync(file_of(folder), "utf8");
  assert.match(text, /centre_height = "1.7 m"/);
  assert.ok(text.includes(`width = "${wide}"`), wide);
  assert.equal(await value("size of the opening"), wide);
});

test("brief: names of spots close together do not lie on one another, on a phone neither", async (t) => {
  const folder = project(t, "pebble");
  const text = readFileSync(file_of(folder), "utf8");
  writeFileSync(file_of(folder), text.replace('name = "stone"', 'name = "a stone with quite a long name"').replace('distance = "1.1 m"', 'distance = "0.75 m"'));
  const { address } = await serve(t, folder);
  const page = await open(t, address, "brief", { ...PHONE, viewport: { width: 360, height: 740 } });
  await page.locator(".field .spot").first().waitFor();
  await page.waitForTimeout(200);
  const boxes = await page.locator(".field .spot text").evaluateAll((all) => all.map((e) => e.getBoundingClientRect().toJSON()));
  const width = 360;
  assert.equal(boxes.length, 6);
  for (const [i, a] of boxes.entries()) {
    assert.ok(a.left >= 0 && a.right <= width, JSON.stringify(a));
    for (const b of boxes.slice(i + 1)) {
      const over = Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 4;
      assert.ok(!over, `${JSON.stringify(a)} and ${JSON.stringify(b)}`);
    }
  }
});

test("bench: a launcher that does not reach a spot is shown all the same, to be dragged until it does", async (t) => {
  const folder = project(t);
  const text = readFileSync(file_of(folder), "utf8");
  writeFileSync(file_of(folder), text.replace('distance = "3.6 m"', 'distance = "11 m"'));
  const { address } = await serve(t, folder);
  const page = await open(t, address, "bench");
  await page.locator(".launcher-view .handle").first().waitFor();
  const note = page.locator(".launcher-view .refused");
  assert.match(await note.textContent(), /No wheel speed brings a throw from far .* top speed/);
  assert.match(await page.locator("table").first().locator("tbody tr").last().textContent(), /out of reach/);
  // Nearer by hand, and it is a throw again.
  await page.locator('fieldset.pick label').filter({ hasText: "middle" }).click();
  await note.waitFor({ state: "detached" });
  assert.ok((await page.locator(".launcher-view .handle").count()) >= 4);
});

test("floor: each browser takes back its own last shot", async (t) => {
  const folder = project(t);
  const { address } = await serve(t, folder);
  const [one, two] = [await open(t, address, "floor", PHONE), await open(t, address, "floor", PHONE)];
  const log = async (page, word) => {
    await page.getByRole("button", { name: word, exact: true }).tap();
    await page.locator(".log-it").tap();
    await page.locator(".said p").first().waitFor();
  };
  await log(one, "short");
  await log(two, "long");
  await one.getByRole("button", { name: "Undo shot 1" }).tap();
  await one.getByText("shot 1 taken back").waitFor();
  assert.deepEqual(shots_of(folder).map((s) => s.outcome), ["long"]);
  // Nothing of its own is left: what others logged is not offered.
  assert.equal(await one.getByRole("button", { name: /Undo shot/ }).count(), 0);
  // What somebody changed meanwhile is not taken back over their head.
  terminal("floor", "edit", "2", "in", "--in", folder);
  await two.getByRole("button", { name: "Undo shot 2" }).tap();
  await two.getByText("no longer as it was logged").waitFor();
  assert.deepEqual(shots_of(folder).map((s) => s.outcome), ["in"]);
});
