// The rooms, used as people use them.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, test } from "node:test";
import { gzipSync } from "node:zlib";
import Ajv from "ajv/dist/2020.js";
import { LAPTOP, PHONE, browser_path, close, open, project, root, serve, shots, terminal } from "./serve.mjs";

if (!browser_path) {
  if (process.env.CI) throw new Error("no browser of the Chromium family was found: install chromium");
  console.log("skipped: no browser of the Chromium family was found; install chromium, or set CHROMIUM to its path");
  process.exit(0);
}
after(close);

const file_of = (folder) => readFileSync(join(folder, "arcwright.toml"), "utf8");
const settled = (page) => page.waitForFunction(() => !document.querySelector("[aria-busy=true]"), null, { timeout: 60000 });

test("bench: a handle is dragged, everything follows, and the change is kept and undone", async (t) => {
  const folder = project(t);
  const before = file_of(folder);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "bench");
  await page.locator(".handle").first().waitFor();
  const setpoint = () => page.locator("table").first().locator("tbody tr").last().locator("td").nth(1).textContent();
  await settled(page);
  const first = await setpoint();
  const asked = [];
  page.on("request", (r) => r.url().endsWith("/work") && asked.push(JSON.parse(r.postData() ?? "{}")));
  const knob = await page.locator('.handle[data-key="setting.tilt"] .knob').boundingBox();
  const [x, y] = [knob.x + knob.width / 2, knob.y + knob.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  const moves = 60;
  for (let i = 1; i <= moves; i++) await page.mouse.move(x + i / 6, y + i / 24);
  await page.mouse.up();
  await page.locator(".changes").waitFor();
  await page.waitForFunction((was) => document.querySelector("table tbody tr:last-child td:nth-of-type(2)")?.textContent !== was, first);
  // Work is counted, not timed: a drag never piles up requests, and the last one is of where it ended.
  const quick = asked.filter((a) => a.unsearched);
  assert.ok(quick.length >= 1 && quick.length <= moves, `${quick.length} requests`);
  const tilt = await page.locator("#q-setting-tilt").getAttribute("aria-valuetext");
  await page.waitForFunction((t) => document.querySelector(".launcher-view svg")?.textContent.includes(t.replace(" deg", "°")), tilt);
  assert.equal(file_of(folder), before, "nothing is written before it is kept");
  await page.getByRole("button", { name: "Keep in the file" }).click();
  await page.locator(".changes").waitFor({ state: "detached" });
  assert.equal(file_of(folder), before.replace('tilt = "8 deg"', `tilt = "${tilt}"`));
  await page.getByRole("button", { name: "Undo" }).click();
  await page.waitForFunction(() => document.querySelector("#q-setting-tilt")?.getAttribute("aria-valuetext") === "8 deg");
  assert.equal(file_of(folder), before);
  await settled(page);
  await page.screenshot({ path: join(shots, "bench-laptop.png"), fullPage: true });
});

test("bench: the numbers are those of the terminal", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "bench");
  await page.locator("table tbody tr").first().waitFor();
  const rows = await page.locator("table").first().locator("tbody tr").evaluateAll((rows) => rows.map((r) => [...r.children].map((c) => c.textContent)));
  const said = terminal("aim", "--demo", "lantern").split("\n");
  for (const row of rows) {
    const line = said.find((l) => l.trim().startsWith(row[0])).trim().split(/ {2,}/);
    assert.deepEqual(row, line);
  }
  assert.equal(rows.length, 3);
});

test("bench: a picture's numbers can be read and saved, and the passage followed", async (t) => {
  const { address } = await serve(t, { demo: "pebble" });
  const page = await open(t, address, "bench");
  const figure = page.locator("figure.picture").filter({ has: page.getByRole("button", { name: "CSV" }) }).first();
  await figure.getByRole("button", { name: "Numbers" }).click();
  assert.ok((await figure.locator("tbody tr").count()) > 10);
  for (const [button, start] of [["SVG", "<svg"], ["CSV", "time,"], ["PNG", "\u0089PNG"]]) {
    const [download] = await Promise.all([page.waitForEvent("download"), figure.getByRole("button", { name: button, exact: true }).click()]);
    assert.ok(readFileSync(await download.path(), "latin1").startsWith(start), button);
  }
  await page.locator("#moment").fill("40");
  await page.locator(".moving circle").waitFor();
  assert.match(await page.locator(".moment output").textContent(), /ms: .* m\/s/);
});

test("brief: with the keyboard alone a spot is moved and kept", async (t) => {
  const folder = project(t);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "brief");
  await page.locator("#verdicts li").first().waitFor();
  // From the top of the page by Tab alone.
  for (let i = 0; i < 40; i++) {
    await page.keyboard.press("Tab");
    if (await page.evaluate(() => document.activeElement?.getAttribute("aria-label") === "distance of spot far")) break;
  }
  assert.equal(await page.evaluate(() => document.activeElement?.getAttribute("aria-valuetext")), "3.6 m");
  await page.keyboard.press("PageUp");
  await page.keyboard.press("ArrowUp");
  assert.equal(await page.evaluate(() => document.activeElement?.getAttribute("aria-valuetext")), "3.71 m");
  for (let i = 0; i < 200; i++) {
    await page.keyboard.press("Tab");
    if (await page.evaluate(() => document.activeElement?.textContent === "Keep in the file")) break;
  }
  await page.keyboard.press("Enter");
  await page.locator(".changes").waitFor({ state: "detached" });
  assert.match(file_of(folder), /distance = "3.71 m"/);
});

test("floor: two taps log a shot on a phone; without a connection they wait and are not doubled", async (t) => {
  const folder = project(t);
  let server = await serve(t, folder);
  const page = await open(t, server.address, "floor", PHONE);
  const opening = page.locator("svg.opening");
  await opening.waitFor();
  const shots_now = () => JSON.parse(terminal("floor", "list", "--json", "--in", folder) || '{"sessions":[]}').sessions.flatMap((s) => s.shots);
  const box = await opening.boundingBox();
  await page.touchscreen.tap(box.x + box.width * 0.4, box.y + box.height * 0.25);
  await page.locator(".log-it").tap();
  await page.getByText("shot 1:").waitFor();
  const [one] = shots_now();
  assert.equal(one.outcome, "long");
  assert.ok(one.miss.along_m > 0.1 && one.miss.across_m > 0.02, JSON.stringify(one.miss));
  // The program is killed in the middle of the practice.
  await server.end();
  await page.getByRole("button", { name: "short", exact: true }).tap();
  await page.locator(".log-it").tap();
  await page.getByRole("button", { name: "in", exact: true }).tap();
  await page.locator(".log-it").tap();
  await page.locator(".waits").waitFor();
  // A third one was a mistake, and is taken back before it is sent.
  await page.getByRole("button", { name: "rim", exact: true }).tap();
  await page.locator(".log-it").tap();
  await page.getByText("3 waiting").waitFor();
  await page.getByRole("button", { name: "Take the last one back" }).tap();
  await page.getByText("2 waiting").waitFor();
  await page.screenshot({ path: join(shots, "floor-phone-waiting.png"), fullPage: true });
  server = await serve(t, folder, server.port);
  await page.locator(".waits").waitFor({ state: "detached", timeout: 20000 });
  assert.deepEqual(shots_now().map((s) => s.outcome), ["long", "short", "in"]);
  await page.locator(".next p").first().waitFor();
  await page.getByRole("button", { name: "Undo" }).last().tap();
  await page.waitForFunction(() => /taken back/.test(document.querySelector(".said")?.textContent ?? ""));
  assert.equal(shots_now().length, 2);
});

test("floor: a shot that waited is not logged into another project at the same address", async (t) => {
  const [folder, other] = [project(t), project(t)];
  const count = (at) => JSON.parse(terminal("floor", "list", "--json", "--in", at) || '{"sessions":[]}').sessions.flatMap((s) => s.shots).length;
  let server = await serve(t, folder);
  const page = await open(t, server.address, "floor", PHONE);
  await page.locator("svg.opening").waitFor();
  await server.end();
  const log = async (what) => {
    await page.getByRole("button", { name: what, exact: true }).tap();
    await page.locator(".log-it").tap();
  };
  await log("short");
  await page.getByText("1 waiting").waitFor();
  server = await serve(t, other, server.port);
  await page.getByText("thrown with another project").waitFor({ timeout: 20000 });
  await page.screenshot({ path: join(shots, "floor-phone-elsewhere.png"), fullPage: true });
  assert.equal(count(other), 0);
  // A shot of the project that is there now does not wait behind it.
  await page.reload();
  await page.locator("svg.opening").waitFor();
  await log("in");
  await page.getByText("shot 1:").waitFor();
  assert.equal(count(other), 1);
  await page.getByText("thrown with another project").waitFor();
  await server.end();
  server = await serve(t, folder, server.port);
  await page.locator(".waits").waitFor({ state: "detached", timeout: 20000 });
  assert.deepEqual([count(folder), count(other)], [1, 1]);
});

test("two browsers on one project: what one keeps the other sees", async (t) => {
  const folder = project(t);
  const { address } = await serve(t, folder);
  const [one, two] = [await open(t, address, "bench"), await open(t, address, "bench")];
  for (const p of [one, two]) await p.locator("#q-setting-reach").waitFor();
  const set = async (page, text) => {
    const field = page.locator('.quantity:has(#q-setting-reach) input.number');
    await field.fill(text);
    await field.press("Enter");
  };
  await set(two, "70");
  await set(one, "65");
  await one.getByRole("button", { name: "Keep in the file" }).click();
  await two.waitForFunction(() => /65 mm/.test(document.querySelector(".quantity:has(#q-setting-reach) .back")?.textContent ?? ""));
  assert.match(file_of(folder), /reach = "65 mm"/);
  // The second keeps its own value knowingly: it has been shown the new one.
  await two.getByRole("button", { name: "Keep in the file" }).click();
  await one.waitForFunction(() => document.querySelector("#q-setting-reach")?.getAttribute("aria-valuetext") === "70 mm");
  assert.match(file_of(folder), /reach = "70 mm"/);
});

test("an edit over somebody else's is refused with a word, and nothing is written", async (t) => {
  const folder = project(t);
  const { address } = await serve(t, folder);
  const page = await open(t, address, "bench");
  const field = page.locator(".quantity:has(#q-setting-reach) input.number");
  await field.waitFor();
  // This browser does not hear of what happens elsewhere.
  await page.route("**/api/v1/news", (route) => route.abort());
  await page.route("**/api/v1/project", (route) => route.abort());
  await field.fill("70");
  await field.press("Enter");
  const revision = (await (await fetch(`${address}api/v1/project`)).json()).revision;
  const kept = await fetch(`${address}api/v1/project/edit`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ changes: [{ key: "setting.reach", text: "65 mm" }], revision }) });
  assert.equal(kept.status, 200);
  await page.getByRole("button", { name: "Keep in the file" }).click();
  await page.getByText("changed elsewhere at the same time").waitFor();
  assert.match(file_of(folder), /reach = "65 mm"/);
});

test("a demo becomes a project of one's own", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "floor");
  await page.getByText("Keep this demo as a project first").waitFor();
  await page.getByLabel("Name of the folder").fill("../elsewhere");
  // A name that leads elsewhere is refused by the server too.
  const reply = await page.evaluate(async () => (await fetch("/api/v1/project/keep", { method: "POST", headers: { "content-type": "application/json" }, body: '{"folder":"../elsewhere"}' })).status);
  assert.equal(reply, 422);
});

test("from a deep link every room is reached by its link, and back again", async (t) => {
  const { address } = await serve(t, { demo: "pebble" });
  const page = await open(t, address, "bench");
  for (const room of ["Brief", "Feed", "Frame", "Pit", "Book", "Floor", "Bench"]) {
    await page.getByRole("navigation", { name: "Rooms" }).getByRole("link", { name: room }).click();
    await page.locator("h1", { hasText: room }).waitFor({ timeout: 5000 });
  }
  await page.goBack();
  await page.locator("h1", { hasText: "Floor" }).waitFor({ timeout: 5000 });
});

test("pit: the card prints on one page", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "pit");
  await page.getByText("Check with a ruler").waitFor();
  await page.waitForFunction(() => /rpm/.test(document.querySelector(".card table")?.textContent ?? ""));
  const pdf = (await page.pdf({ preferCSSPageSize: true })).toString("latin1");
  assert.equal(pdf.match(/\/Type\s*\/Page[^s]/g)?.length, 1);
  await page.emulateMedia({ media: "print" });
  await page.screenshot({ path: join(shots, "pit-print.png"), fullPage: true });
});

test("every room is accessible, in light and dark, and fits from 360 to 2560 pixels", async (t) => {
  const folder = project(t);
  terminal("floor", "log", "far", "long", "12cm", "left", "5cm", "--in", folder);
  const { address } = await serve(t, folder);
  const axe = readFileSync(join(root, "page-tests/node_modules/axe-core/axe.min.js"), "utf8");
  const wrong = [];
  for (const scheme of ["light", "dark"]) {
    for (const room of ["brief", "bench", "feed", "frame", "floor", "pit", "book"]) {
      const page = await open(t, address, room, { ...LAPTOP, colorScheme: scheme, bypassCSP: true });
      await page.waitForTimeout(400);
      await settled(page);
      await page.evaluate(axe);
      const found = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
      for (const v of found.violations) wrong.push(`${room}, ${scheme}: ${v.id}: ${v.nodes.slice(0, 3).map((n) => n.target.join(" ")).join(", ")}`);
      if (scheme === "light") {
        for (const width of [360, 768, 2560]) {
          await page.setViewportSize({ width, height: 900 });
          await page.waitForTimeout(100);
          const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
          if (wide > 0) wrong.push(`${room} is ${wide} px too wide at ${width}`);
          const hidden = await page.locator("nav.rooms").evaluate((nav) => nav.scrollWidth - nav.clientWidth);
          if (hidden > 0) wrong.push(`${hidden} px of the rooms are out of sight at ${width}`);
          if (width === 360) await page.screenshot({ path: join(shots, `${room}-360.png`), fullPage: true });
        }
      } else await page.screenshot({ path: join(shots, `${room}-dark.png`), fullPage: true });
      await page.context().close();
    }
  }
  assert.deepEqual(wrong, []);
});

test("the first load is under a megabyte compressed and comes from this machine alone", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const context = await (await (await import("./serve.mjs")).browser()).newContext();
  t.after(() => context.close());
  const page = await context.newPage();
  let sum = 0;
  const foreign = [];
  page.on("response", async (r) => {
    if (!r.url().startsWith(address) && !r.url().startsWith("blob:")) foreign.push(r.url());
    if (r.url().endsWith("/news")) return;
    sum += gzipSync(await r.body().catch(() => Buffer.alloc(0))).length;
  });
  await page.goto(`${address}bench`);
  await page.locator(".handle").first().waitFor();
  await page.waitForTimeout(500);
  assert.deepEqual(foreign, []);
  assert.ok(sum > 10_000 && sum < 1_000_000, `${sum} bytes`);
  t.diagnostic(`first load: ${sum} bytes compressed`);
});

test("what the server answers is what its description says", async (t) => {
  const folder = project(t);
  const { address } = await serve(t, folder);
  const document = await (await fetch(`${address}api/v1/openapi.json`)).json();
  const ajv = new Ajv({ strict: false });
  ajv.addSchema(document, "api");
  const revision = (await (await fetch(`${address}api/v1/project`)).json()).revision;
  const bodies = {
    "/project/edit": { changes: [{ key: "setting.tilt", text: "9 deg" }], revision },
    "/project/text": { text: "", revision: "old" },
    "/work": { want: ["check", "picture.flights", "hold.launcher"] },
    "/floor/shots": { words: "far 3490 short 20cm", key: "a-key-of-its-own" },
    "/project/keep": { folder: "a/b" },
    "/project/demo": { demo: "pebble" },
    "/pair": { code: "000000" },
    "/share/code": { role: "view" },
    "/share/end": { id: 1 },
    "/floor/incoming": { name: "shots.csv", bytes: "spot,rpm,result\nfar,3490,in\nfar,x,in\n" },
    "/floor/drift": { now: { name: "now.csv", bytes: "t (s),wheel (rpm)\n0,3400\n0.02,3400\n0.04,3400\n" } },
    "/floor/rehearsal": { see: ["eye"], seed: 7 },
    "/feed/play": { what: "loads", loads: 16 },
    "/feed/apply": { remedy: "bands", revision: "old" },
    "/feed/replay": { load: 0 },
    "/feed/measure": { what: "bounce", readings: ["36 cm", "35 cm", "37 cm"], over: "1 m" },
  };
  const order = Object.keys(document.paths).filter((p) => p !== "/news").sort((a, b) => Number(a.endsWith("undo")) - Number(b.endsWith("undo")));
  const seen = new Set();
  for (const path of order) {
    for (const [method, about] of Object.entries(document.paths[path])) {
      const reply = await fetch(`${address}api/v1${path}`, method === "get" ? {} : { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(bodies[path] ?? {}) });
      const schema = about.responses[String(reply.status)]?.content["application/json"]?.schema;
      assert.ok(schema, `${method} ${path} answered ${reply.status}, which is not described`);
      const pointer = `api#/paths/${path.replaceAll("/", "~1")}/${method}/responses/${reply.status}/content/application~1json/schema`;
      const fits = ajv.getSchema(pointer);
      const body = await reply.json();
      assert.ok(fits(body), `${method} ${path} ${reply.status}: ${ajv.errorsText(fits.errors)}`);
      seen.add(reply.status);
    }
  }
  assert.ok(seen.has(200) && seen.has(409) && seen.has(422));
});

test("the vendored libraries are those of the registry", () => {
  const table = readFileSync(join(root, "crates/app/page/vendor/VENDORED.md"), "utf8");
  const rows = [...table.matchAll(/^\| `(\S+)` \| (\S+) \| (\S+) \| \S+ \| `(\S+)` \|/gm)];
  assert.equal(rows.length, 8);
  for (const [, file, name, version, inside] of rows) {
    const at = join(root, "page-tests/node_modules", name);
    assert.equal(JSON.parse(readFileSync(join(at, "package.json"), "utf8")).version, version, name);
    assert.equal(readFileSync(join(root, "crates/app/page/vendor", file), "utf8"), readFileSync(join(at, inside), "utf8"), file);
  }
});

test("a telephone on the network is paired by its code and logs, and may not change the project", async (t) => {
  const folder = project(t);
  const { address, port } = await serve(t, folder, 0, ["--share"]);
  const owner = await open(t, address, "bench");
  await owner.getByRole("button", { name: "Share" }).click();
  await owner.getByRole("button", { name: "A code to look and log shots" }).click();
  const code = (await owner.locator(".code strong").textContent()).replace(" ", "");
  await owner.locator(".qr svg").waitFor({ state: "attached" });
  // By a number of this machine that is not its own name for itself: a device as any other.
  const phone = await open(t, `http://127.0.0.2:${port}/`, "floor", PHONE);
  await phone.getByLabel("Code").fill("000 000");
  await phone.getByRole("button", { name: "Pair" }).tap();
  await phone.getByText("this is not the code").waitFor();
  await phone.getByLabel("Code").fill(code);
  await phone.getByLabel("Name of this device").fill("phone");
  await phone.getByRole("button", { name: "Pair" }).tap();
  await phone.getByRole("button", { name: "rim", exact: true }).tap();
  await phone.locator(".log-it").tap();
  await phone.getByText("shot 1:").waitFor();
  const status = await phone.evaluate(async () => (await fetch("/api/v1/project/undo", { method: "POST", headers: { "content-type": "application/json" }, body: "{}" })).status);
  assert.equal(status, 403);
  await owner.getByText("phone may log").waitFor();
  assert.match(await owner.locator(".tools button").first().textContent(), /Share · 1/);
  // Sent away, a device keeps its shot: it is neither logged nor lost.
  await owner.getByRole("button", { name: "End", exact: true }).click();
  await phone.getByRole("button", { name: "in", exact: true }).tap();
  const answered = phone.waitForResponse((r) => r.url().endsWith("/floor/shots"));
  await phone.locator(".log-it").tap();
  assert.equal((await answered).status(), 401);
  await phone.waitForTimeout(300);
  assert.equal(await phone.locator(".waits").count(), 1);
});
