// Every picture of Brief and Bench can be read without seeing it, and taken away; numbers are written as the program writes them.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, test } from "node:test";
import { LAPTOP, browser_path, close, open, serve } from "./serve.mjs";

if (!browser_path) {
  if (process.env.CI) throw new Error("no browser of the Chromium family was found: install chromium");
  console.log("skipped: no browser of the Chromium family was found; install chromium, or set CHROMIUM to its path");
  process.exit(0);
}
after(close);

/** A browser takes no more than ten downloads a second from one page, and drops the next without a word. */
const BETWEEN_MS = 150;

/** A unit somewhere in a text. */
const UNIT = /\b(mm|m|m\/s|rpm|ms|s|N|A|V|deg)\b|°|%/;

for (const demo of ["lantern", "bramble"]) {
  test(`${demo}: every chart has units, words in its place, its numbers as a table, and is saved as SVG, PNG and CSV`, async (t) => {
    const { address } = await serve(t, { demo });
    const seen = [];
    for (const room of ["brief", "bench"]) {
      const page = await open(t, address, room, LAPTOP);
      await page.locator("figure.picture .sheet svg").first().waitFor();
      if (room === "bench") await page.getByRole("button", { name: "Compare with the file" }).click();
      await page.waitForFunction(() => !document.querySelector("figure.picture.waiting") && !/getting finer|throwing…/.test(document.body.textContent), null, { timeout: 120000 });
      const figures = page.locator("figure.picture:has(.sheet)");
      for (let i = 0; i < (await figures.count()); i++) {
        const figure = figures.nth(i);
        const about = await figure.evaluate((node) => {
          const svg = node.querySelector(".sheet svg");
          const words = svg.getAttribute("aria-label") ?? [...svg.querySelectorAll(":scope > title, :scope > desc")].map((n) => n.textContent).join(" ");
          return { role: svg.getAttribute("role"), words, text: [...svg.querySelectorAll("text")].map((n) => n.textContent).join(" "), name: node.querySelector(".sheet").getAttribute("aria-label"), wide: svg.viewBox.baseVal.width };
        });
        assert.equal(about.role, "img", about.name);
        assert.ok(about.words.length > 40, `${about.name} says only: ${about.words}`);
        assert.match(about.text, UNIT, about.name);
        await figure.getByRole("button", { name: "Numbers" }).click();
        const rows = await figure.locator("tbody tr").count();
        assert.ok(rows > 0, `${about.name} has an empty table`);
        const table = await figure.locator("table").evaluate((n) => n.textContent);
        assert.match(table, UNIT, `${about.name}: the table has no units`);
        for (const [button, start] of [["SVG", "<svg"], ["CSV", ""], ["PNG", "\u0089PNG"]]) {
          await page.waitForTimeout(BETWEEN_MS);
          const come = page.waitForEvent("download").catch((e) => assert.fail(`${room}, ${about.name} as ${button}: ${e.message}`));
          const [download] = await Promise.all([come, figure.getByRole("button", { name: button, exact: true }).click()]);
          const text = readFileSync(await download.path(), "latin1");
          assert.ok(text.startsWith(start) && text.length > 40, `${about.name} as ${button}`);
          if (button === "PNG") assert.equal(Buffer.from(text, "latin1").readUInt32BE(16), 2 * Math.round(about.wide), `${about.name}: the PNG is twice as wide as the picture`);
          if (button === "CSV") assert.equal(text.trimEnd().split("\r\n").length, rows + 1, `${about.name}: the CSV has the rows of the table`);
        }
        seen.push(about.name);
      }
      await page.context().close();
    }
    assert.ok(seen.length >= 12, seen.join(", "));
  });
}

test("numbers on the page are written as the program writes them", async (t) => {
  const { address } = await serve(t, { demo: "lantern" });
  const page = await open(t, address, "book", LAPTOP);
  const wrong = await page.evaluate(async () => {
    const { in_unit } = await import("/lib/say.js");
    const post = async (path, body) => (await fetch(`/api/v1/${path}`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) })).json();
    const wrong = [];
    let count = 0;
    // An even walk through each range, the same every time.
    let u = 0.37;
    for (const demo of ["lantern", "bramble", "pebble"]) {
      await post("project/demo", { demo });
      for (const word of ["metric", "us"]) {
        const { revision } = await (await fetch("/api/v1/project")).json();
        const view = await post("project/edit", { edits: [{ act: "word", key: "units", word }], revision });
        for (const q of view.quantities) {
          count++;
          if (in_unit(q.value, q) !== q.text) wrong.push(`${demo} ${word} ${q.key}: page ${in_unit(q.value, q)}, program ${q.text}`);
          u = (u + 0.61803398875) % 1;
          const value = q.low + u * (q.high - q.low);
          if (!q.step || q.choices.length || q.dimension === "Count" || q.step === 1) continue;
          const reply = await post("work", { want: ["quantities"], changes: [{ key: q.key, value }] });
          const then = reply.parts?.quantities.find((o) => o.key === q.key);
          if (!then) continue;
          count++;
          if (in_unit(then.value, then) !== then.text) wrong.push(`${demo} ${word} ${q.key}: page ${in_unit(then.value, then)}, program ${then.text}`);
        }
      }
    }
    return { wrong, count };
  });
  assert.deepEqual(wrong.wrong, []);
  assert.ok(wrong.count > 500, `${wrong.count}`);
});
