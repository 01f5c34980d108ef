// Starts the program on a project or a demo, and a browser to look at it.
import { spawn, execFileSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const here = dirname(fileURLToPath(import.meta.url));
export const root = dirname(here);
export const program = process.env.ARCWRIGHT ?? join(root, "target/debug/arcwright");
export const shots = join(here, "out");
mkdirSync(shots, { recursive: true });

/** A browser of the Chromium family, or undefined. */
export const browser_path = [process.env.CHROMIUM, "/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find((p) => p && existsSync(p));

/** A new project folder from a demo, gone when the test ends. */
export function project(t, from = "lantern") {
  const folder = mkdtempSync(join(tmpdir(), "arcwright-page-"));
  execFileSync(program, ["new", join(folder, "own"), "--from", from]);
  t.after(() => rmSync(folder, { recursive: true, force: true, maxRetries: 20, retryDelay: 100 }));
  return join(folder, "own");
}

/** Serves a project folder, or a demo, on a port; gives the address and a way to end it. */
export async function serve(t, what, port = 0, more = []) {
  const about = typeof what === "string" ? [what] : ["--demo", what.demo];
  return serving(t, [...about, "--port", String(port), ...more], what.cwd);
}

/** Serves what lies in a folder, as one who starts the program there. */
export const serve_in = (t, folder) => serving(t, ["--port", "0"], folder);

async function serving(t, args, cwd) {
  // For work on the page: its files from a folder in place of those built in.
  if (process.env.PAGE_FILES) args.push("--files-from", process.env.PAGE_FILES);
  const child = spawn(program, ["page", "--no-open", ...args], { cwd });
  const address = await new Promise((found, failed) => {
    let text = "";
    child.stdout.on("data", (d) => {
      text += d;
      const at = text.match(/http:\/\/\S+/);
      if (at) found(at[0]);
    });
    child.on("exit", (code) => failed(new Error(`the program ended with ${code}: ${text}`)));
  });
  const end = () => new Promise((gone) => (child.exitCode !== null || child.signalCode ? gone() : (child.once("exit", gone), child.kill("SIGKILL"))));
  t.after(end);
  return { address, end, port: Number(new URL(address).port) };
}

let shared;
/** The browser, one for all tests. */
export async function browser() {
  shared ??= await chromium.launch({ executablePath: browser_path, args: ["--no-sandbox"] });
  return shared;
}
export const close = async () => shared?.close();

export const LAPTOP = { viewport: { width: 1366, height: 850 } };
export const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 };

/** A page in a browser profile of its own; every error in it fails the test. */
export async function open(t, address, room, size = LAPTOP) {
  const context = await (await browser()).newContext(size);
  t.after(() => context.close());
  const page = await context.newPage();
  const errors = [];
  page.on("pageerror", (e) => errors.push(e.message));
  page.on("console", (m) => m.type() === "error" && !/Failed to load resource/.test(m.text()) && errors.push(m.text()));
  t.after(() => {
    if (errors.length) throw new Error(`errors on the page: ${errors.join("; ")}`);
  });
  await page.goto(address + room);
  await page.locator("h1").waitFor();
  return page;
}

/** What the terminal says. */
export const terminal = (...args) => {
  try {
    return execFileSync(program, args, { encoding: "utf8" });
  } catch (e) {
    return e.stdout;
  }
};

/** What axe-core finds wrong on a page that was opened with `bypassCSP`. */
export async function accessible(page) {
  await page.evaluate(readFileSync(join(here, "node_modules/axe-core/axe.min.js"), "utf8"));
  const found = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
  return found.violations.map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.target.join(" ")).join(", ")}`);
}
