// What reaches a person who looks at the meter and not at the phone: sound,
// vibration, and a screen that stays on while the load is connected. The
// browser's own are replaced by ones that write down what they were asked for.

import { field, open, startGuided } from "./support/app";
import { entryAt, packCodes, prefOf } from "./support/journal";
import type { Server } from "./support/server";
import { expect, type Page, test } from "./support/test";

interface Signal {
  what: string;
  at: number; // ms after the tap that started the clock
}

/** The pitches in hertz and patterns in ms by which a person tells the signals apart. */
const tick = "tone 880";
const connect = ["tone 660", "buzz 200"];
const read = ["tone 1320", "buzz 300,100,300"];

/** stub replaces sound, vibration and wake lock; what they are asked for is in window.signals. */
async function stub(page: Page, wakeLock: "granted" | "refused" = "granted"): Promise<void> {
  await page.addInitScript((wakeLock) => {
    const signals: { what: string; at: number }[] = [];
    const note = (what: string) => signals.push({ what, at: Date.now() });
    const none = () => {};
    class Tones {
      state = "suspended";
      destination = {};
      get currentTime() {
        return Date.now() / 1000;
      }
      async resume() {
        this.state = navigator.userActivation.isActive ? "running" : this.state; // only inside a tap
      }
      createOscillator() {
        const frequency = { value: 0 };
        return { frequency, connect: (next: unknown) => next, start: () => note(`tone ${frequency.value}`), stop: none };
      }
      createGain() {
        return { gain: { setValueAtTime: none, linearRampToValueAtTime: none }, connect: none };
      }
    }
    const lock = {
      async request(kind: string) {
        note(`wake lock ${kind}`);
        if (wakeLock === "refused") throw new DOMException("low battery", "NotAllowedError");
        return { release: async () => void note("wake lock released") };
      },
    };
    const vibrate = (pattern: number | number[]) => note(`buzz ${String(pattern)}`) > 0;
    Object.assign(globalThis, { signals, AudioContext: Tones });
    Object.defineProperty(Navigator.prototype, "vibrate", { value: vibrate });
    Object.defineProperty(Navigator.prototype, "wakeLock", { value: lock });
  }, wakeLock);
}

/** toClock goes to the moment before the clock of a test with its reading second at 3, on a clock that is moved by hand. */
async function toClock(page: Page, server: Server): Promise<void> {
  const [code = ""] = packCodes(1);
  const made = Date.now() - 1000;
  const profile = { name: "Amber 1", capacity_ah: 3, cells: 10, fuse_a: 20 };
  await server.push([entryAt(made, "team-changed", "", { read_after_s: 3, repeats: 1 }), entryAt(made + 1, "pack-added", code, profile)]);
  await page.clock.install();
  await open(page);
  await expect(page.getByRole("link", { name: /Amber 1/ })).toBeVisible();
  await startGuided(page, code);
  await field(page, "open_v").fill("12.84");
  await page.getByRole("button", { name: "Next: connect the load" }).click();
  await expect(page.getByRole("button", { name: "Start the clock" })).toBeVisible();
  await page.clock.pauseAt((await page.evaluate(() => Date.now())) + 1000);
  await page.evaluate(() => void ((globalThis as unknown as { signals: unknown[] }).signals.length = 0));
}

/** start taps Start and gives what was signalled since. */
async function start(page: Page): Promise<() => Promise<Signal[]>> {
  const tapped = await page.evaluate(() => Date.now());
  await page.getByRole("button", { name: "Start the clock" }).click();
  return async () => {
    const signals = await page.evaluate(() => (globalThis as unknown as { signals: Signal[] }).signals);
    return signals.map(({ what, at }) => ({ what, at: at - tapped }));
  };
}

const wakeLocks = (signals: Signal[]) => signals.map(({ what }) => what).filter((what) => what.startsWith("wake lock"));

/** see makes the page believe that it is in sight or out of it. */
function see(page: Page, state: DocumentVisibilityState): Promise<void> {
  return page.evaluate((state) => {
    Object.defineProperty(document, "visibilityState", { configurable: true, get: () => state });
    document.dispatchEvent(new Event("visibilitychange"));
  }, state);
}

test("ticks lead up to connecting and to the reading second, each with a signal of its own to hear and to feel", async ({ page, server }) => {
  await stub(page);
  await toClock(page, server);
  const signals = await start(page);
  await page.clock.runFor(3900);
  await expect(page.getByRole("heading", { name: "Get ready" })).toBeVisible();
  await page.clock.runFor(3000);
  await expect(page.getByRole("heading", { name: "Get ready to read" })).toBeVisible();
  await page.clock.runFor(300);
  await expect(page.getByRole("heading", { name: "Read now" })).toBeVisible();

  const given = (await signals()).filter(({ what }) => /^(tone|buzz)/.test(what));
  const wanted: [what: string, at: number][] = [
    ...([1000, 2000, 3000] as const).map((at): [string, number] => [tick, at]),
    ...connect.map((what): [string, number] => [what, 4000]),
    [tick, 6000], // "connect now" stands until 5.5 s
    ...read.map((what): [string, number] => [what, 7000]),
  ];
  expect(given.map(({ what }) => what)).toEqual(wanted.map(([what]) => what));
  for (const [i, [what, at]] of wanted.entries()) {
    expect(Math.abs(given[i]!.at - at), `${what} at ${given[i]!.at} ms, wanted at ${at} ms`).toBeLessThanOrEqual(100);
  }
});

test("the screen is kept on while the clock runs, again after a look elsewhere, and let go afterwards", async ({ page, server }) => {
  await stub(page);
  await toClock(page, server);
  const signals = await start(page);
  await page.clock.runFor(1000);
  expect(wakeLocks(await signals())).toEqual(["wake lock screen"]);
  await see(page, "hidden"); // then the browser itself takes the lock back
  await page.clock.runFor(1000);
  expect(wakeLocks(await signals()), "not asked for out of sight").toEqual(["wake lock screen"]);
  await see(page, "visible");
  await expect.poll(async () => wakeLocks(await signals())).toEqual(["wake lock screen", "wake lock screen"]);

  await page.clock.runFor(5500);
  await page.getByRole("button", { name: "Load is off" }).click();
  await page.clock.runFor(100);
  await expect(field(page, "loaded_v")).toBeVisible();
  const all = ["wake lock screen", "wake lock screen", "wake lock released"];
  await expect.poll(async () => wakeLocks(await signals())).toEqual(all);
  await see(page, "hidden");
  await see(page, "visible");
  await page.clock.runFor(100);
  expect(wakeLocks(await signals()), "not asked for after the clock").toEqual(all);
});

test("a phone that refuses to keep the screen on still leads through the reading", async ({ page, server }) => {
  await stub(page, "refused");
  await toClock(page, server);
  const signals = await start(page);
  await page.clock.runFor(7200);
  await expect(page.getByRole("heading", { name: "Read now" })).toBeVisible();
  expect(wakeLocks(await signals())).toEqual(["wake lock screen"]);
  expect((await signals()).map(({ what }) => what)).toEqual(expect.arrayContaining([...connect, ...read]));
});

for (const off of ["Sound at the reading second", "Vibration too, where the device can"]) {
  test(`${off}: none once it is switched off, and the other stays`, async ({ page, server }) => {
    await stub(page);
    await open(page, "/setup");
    await page.getByRole("checkbox", { name: off }).uncheck();
    await expect.poll(() => prefOf(page, off.startsWith("Sound") ? "sound" : "vibrate")).toBe(false);
    await page.reload();
    await expect(page.getByRole("checkbox", { name: off })).not.toBeChecked();
    await toClock(page, server);
    const [silent, kept] = off.startsWith("Sound") ? ["tone", "buzz"] : ["buzz", "tone"];
    await expect(page.getByText(/^Sound is off/)).toHaveCount(silent === "tone" ? 1 : 0);
    const signals = await start(page);
    await page.clock.runFor(7200);
    await expect(page.getByRole("heading", { name: "Read now" })).toBeVisible();
    const given = (await signals()).map(({ what }) => what);
    expect(given.filter((what) => what.startsWith(silent!))).toEqual([]);
    expect(given).toEqual(expect.arrayContaining([...connect, ...read].filter((what) => what.startsWith(kept!))));
  });
}
