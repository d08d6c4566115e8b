// Figures, printed and not judged: what a first visit costs, and how long a
// cold start on a label's address takes without a server on a phone whose CPU
// is six times slower. Run by make bench.
//
// The browser slows the page's own thread only, hardly its workers. So the core
// is also started on the page's thread: that bounds it from above.

import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { addPack, lamp, open } from "./support/app";
import { csvFile, driveLog, oldTests } from "./support/runs";
import type { Server } from "./support/server";
import { type BrowserContext, expect, type Page, test } from "./support/test";

const slowdown = 6;
const runs = 7;

const kB = (bytes: number) => `${(bytes / 1000).toFixed(0)} kB`;
const ms = (values: number[]) => {
  const sorted = values.toSorted((a, b) => a - b);
  const at = (part: number) => sorted[Math.round(part * (sorted.length - 1))]?.toFixed(0);
  return `${at(0.5)} ms (${at(0)} to ${at(1)}, ${sorted.length} runs)`;
};

test("first visit: what is sent", async ({ page, server }) => {
  await open(page);
  const urls = await page.evaluate(async () => {
    const kept = await Promise.all((await caches.keys()).map(async (name) => (await caches.open(name)).keys()));
    return kept.flat().map((request) => request.url);
  });
  const files = await Promise.all(urls.map(async (url) => ({ url, bytes: await sentBytes(url) })));
  const sum = (pattern: RegExp) => files.filter(({ url }) => pattern.test(url)).reduce((total, { bytes }) => total + bytes, 0);
  const all = sum(/./);
  const scanner = sum(/bundleddecoder|zxing/);
  console.log(`sent, brotli where it helps: all ${kB(all)}; without the scanner ${kB(all - scanner)}; the core ${kB(sum(/core-\w+\.wasm/))}`);
  expect(server.port).toBeGreaterThan(0);
});

async function sentBytes(url: string): Promise<number> {
  const answer = await fetch(url, { method: "HEAD", headers: { "Accept-Encoding": "br" } });
  return Number(answer.headers.get("Content-Length"));
}

test("cold start on a deep link, no server, CPU slowed", async ({ playwright, server }) => {
  const profile = mkdtempSync(join(tmpdir(), "packwright-profile-"));
  try {
    const code = await firstVisit(playwright.chromium, profile, server);
    await server.stop();
    for (const rate of [1, slowdown]) {
      const form: number[] = [];
      const pack: number[] = [];
      const core: number[] = [];
      for (let run = 0; run < runs; run++) {
        await withBrowser(playwright.chromium, profile, server, async (context) => {
          form.push((await coldStart(context, rate, `/p/${code}/quick`, '[name="open_v.0"]')).shown);
        });
        await withBrowser(playwright.chromium, profile, server, async (context) => {
          const start = await coldStart(context, rate, `/p/${code}`, '[href$="/test"]');
          pack.push(start.shown);
          core.push(start.ready);
        });
      }
      console.log(`CPU ÷ ${rate}: form usable ${ms(form)}; pack shown ${ms(pack)}; core ready with the journal ${ms(core)}`);
    }
    const onPage: number[] = [];
    for (let run = 0; run < runs; run++) {
      await withBrowser(playwright.chromium, profile, server, async (context) => {
        onPage.push(await coreOnThePage(context));
      });
    }
    console.log(`CPU ÷ ${slowdown}, the core on the page's own thread, from the start to its first answer: ${ms(onPage)}`);
  } finally {
    rmSync(profile, { recursive: true, force: true });
  }
});

test("a logger's file of 1,000,000 rows, in a worker", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Blue 2", capacity_ah: "3", fuse_a: "20" });
  const file = driveLog(1_000_000, 0.01);
  for (const rate of [1, slowdown]) {
    const session = await page.context().newCDPSession(page);
    await session.send("Emulation.setCPUThrottlingRate", { rate });
    await page.goto(`/p/${code}/run`);
    await expect(page.getByRole("button", { name: "Read a file" })).toBeVisible();
    await page.locator('[name="log"]').setInputFiles(csvFile("million.csv", file));
    const start = page.getByRole("button", { name: "Read the whole file" });
    await expect(start).toBeEnabled();
    await watchTasks(page);
    const began = Date.now();
    await start.click();
    await expect(page.getByRole("heading", { name: "What the file shows" })).toBeVisible({ timeout: 250_000 });
    const took = Date.now() - began;
    console.log(`${(file.length / 1e6).toFixed(1)} MB, page's CPU ÷ ${rate}: ${(took / 1000).toFixed(1)} s; ${await longestTask(page)}`);
    await session.detach();
  }
});

test("a table of 3,000 old tests, looked at and saved", async ({ page }) => {
  await open(page);
  await addPack(page, { name: "Blue 3", capacity_ah: "3", fuse_a: "20" });
  await page.goto("/import");
  await expect(page.getByRole("button", { name: "Choose a CSV file" })).toBeVisible();
  await watchTasks(page);
  const began = Date.now();
  await page.locator('[name="table"]').setInputFiles(csvFile("many.csv", oldTests("Blue 3", 3000)));
  await page.getByRole("button", { name: "Save 3000 tests" }).click();
  await expect(page.getByText("3000 tests saved on this device")).toBeVisible({ timeout: 180_000 });
  console.log(`3000 old tests: ${((Date.now() - began) / 1000).toFixed(1)} s; ${await longestTask(page)}`);
});

/** watchTasks notes from here on what keeps the page from answering for 50 ms or more. */
function watchTasks(page: Page): Promise<void> {
  return page.evaluate(() => {
    const told = globalThis as unknown as { tasks: number[] };
    told.tasks = [];
    new PerformanceObserver((list) => told.tasks.push(...list.getEntries().map((task) => task.duration))).observe({ type: "longtask" });
  });
}

async function longestTask(page: Page): Promise<string> {
  const tasks = await page.evaluate(() => (globalThis as unknown as { tasks: number[] }).tasks);
  const longest = tasks.length > 0 ? `${Math.max(...tasks).toFixed(0)} ms` : "under 50 ms";
  return `longest task of the page ${longest}, ${tasks.length} over 50 ms`;
}

type Chromium = Parameters<Parameters<typeof test>[2]>[0]["playwright"]["chromium"];

/** withBrowser starts the browser anew on a profile: nothing of an earlier start is left in its memory. */
async function withBrowser<T>(chromium: Chromium, profile: string, server: Server, work: (context: BrowserContext) => Promise<T>): Promise<T> {
  const { launchOptions, viewport, deviceScaleFactor, hasTouch, isMobile } = test.info().project.use;
  const context = await chromium.launchPersistentContext(profile, {
    ...{ ...launchOptions, viewport, deviceScaleFactor, hasTouch, isMobile },
    baseURL: server.origin,
  });
  try {
    return await work(context);
  } finally {
    await context.close();
  }
}

/** firstVisit installs the app and adds a pack with its test. */
function firstVisit(chromium: Chromium, profile: string, server: Server): Promise<string> {
  return withBrowser(chromium, profile, server, async (context) => {
    const page = await context.newPage();
    await open(page);
    const code = await addPack(page, { name: "Blue 1" });
    await expect(lamp(page)).toHaveText("All sent");
    return code;
  });
}

async function slowPage(context: BrowserContext, rate: number): Promise<Page> {
  const page = await context.newPage();
  const session = await context.newCDPSession(page);
  await session.send("Emulation.setCPUThrottlingRate", { rate });
  return page;
}

/** coldStart gives, from the start of the navigation, when the element was on screen and when the core had the journal, in ms. */
async function coldStart(context: BrowserContext, rate: number, path: string, selector: string): Promise<{ shown: number; ready: number }> {
  const page = await slowPage(context, rate);
  await page.addInitScript((wanted) => {
    new MutationObserver((_, observer) => {
      if (!document.querySelector(wanted)) return;
      observer.disconnect();
      requestAnimationFrame(() => setTimeout(() => performance.mark("on-screen"))); // after it was painted
    }).observe(document, { childList: true, subtree: true });
  }, selector);
  await page.goto(path);
  const at = (mark: string) => page.waitForFunction((name) => performance.getEntriesByName(name)[0]?.startTime, mark);
  return {
    shown: (await (await at("on-screen")).jsonValue()) ?? Number.NaN,
    ready: (await (await at("packwright-ready")).jsonValue()) ?? Number.NaN,
  };
}

/** coreOnThePage runs the worker's own script in the page, whose thread is slowed as a phone's would be. */
async function coreOnThePage(context: BrowserContext): Promise<number> {
  const page = await slowPage(context, slowdown);
  await page.goto("/icons/icon.svg"); // of the app's origin, without the app: nothing has compiled the core before
  const script = await page.evaluate(async () => {
    const kept = await (await caches.open((await caches.keys())[0] ?? "")).keys();
    const worker = kept.find((request) => /\/assets\/worker-/.test(request.url));
    return (await caches.match(worker ?? "").then((found) => found?.text())) ?? "";
  });
  const began = await page.evaluate(() => performance.now());
  await page.evaluate(script); // not through the page's policy, which forbids it
  const done = await page.waitForFunction(() => {
    const core = (globalThis as unknown as { packwrightCall?: (name: string, request: string) => unknown }).packwrightCall;
    return core && core("overview", '{"now_ms":0}') ? performance.now() : 0;
  });
  return (await done.jsonValue()) - began;
}
