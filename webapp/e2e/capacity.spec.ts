// A capacity check by resistor: hours beside a hot load, with a phone that
// sleeps, reloads and is killed. The clock is moved by hand.

import { addPack, changeTeam, crash, expectReady, field, fillAll, lamp, open } from "./support/app";
import { draftOf, phoneEntries } from "./support/journal";
import { dischargeV } from "./support/runs";
import { expect, type Page, test } from "./support/test";

const minute = 60_000;

/** toLog goes from the pack to the running log, with a load that stands it. */
async function toLog(page: Page, code: string): Promise<void> {
  await page.goto(`/p/${code}/run`);
  await expect(page.getByText("With the team's load of 10 Ω it takes about 2 h 30 min")).toBeVisible();
  await page.getByRole("button", { name: "Capacity check" }).click();
  await expect(page.getByText("Do not connect this.")).toBeVisible(); // the team's load has no heat sink
  await expect(page.getByText(/it is on for hours/).first()).toBeVisible();
  await page.getByText("The load sits on a heat sink").click();
  await fillAll(page, { rating_w: "50", pack_c: "21" });
  await expect(page.getByText("Do not connect this.")).toBeHidden();
  await expect(page.getByText("about 2 h 30 min")).toBeVisible(); // 3 Ah at 1.2 A
  await page.getByRole("button", { name: "Yes, go on" }).click();
  await expect(page.getByText("Say whether the pack is full.")).toBeVisible(); // nothing is taken for granted
  await page.getByRole("radio", { name: "Fully charged, rested" }).check();
  await page.getByRole("button", { name: "Yes, go on" }).click();
  await expect(page.getByText("Never leave it alone.")).toBeVisible();
  await page.getByRole("button", { name: "The load is on: start" }).click();
}

async function keep(page: Page, volts: string): Promise<void> {
  await field(page, "volts").fill(volts);
  await page.getByRole("button", { name: "Keep this reading" }).click();
  await expect(page.getByText(`${Number(volts).toFixed(2)} V at`)).toBeVisible();
}

test("a pack is run down to its stop voltage, and the run saved with its rows", async ({ page }) => {
  await page.clock.install();
  await open(page);
  const code = await addPack(page, { name: "Teal 1", capacity_ah: "3", fuse_a: "20" });
  await toLog(page, code);
  await expect(page.getByRole("heading", { name: "Read the meter now" })).toBeVisible();
  await keep(page, String(dischargeV(0)));
  await expect(page.getByRole("heading", { name: "Logging" })).toBeVisible();
  let at = 0;
  for (let step = 5; at < 160; at += step) {
    await page.clock.fastForward(step * minute);
    await expect(page.getByRole("heading", { name: "Read the meter now" })).toBeVisible();
    const volts = dischargeV(at + step);
    await keep(page, volts.toFixed(2));
    if (volts <= 10) break;
    if (volts <= 11) {
      await expect(page.getByText("read every minute")).toBeVisible();
      step = 1;
    }
  }
  await expect(page.getByRole("heading", { name: /^Take the load off/ })).toBeVisible();
  await expect(field(page, "volts")).toBeHidden();
  await page.getByRole("button", { name: "The load is off" }).click();
  const result = page.getByRole("region", { name: "Result" });
  await expect(result).toContainText("Ah");
  await expect(result).toContainText("Good");
  await expect(result).toContainText("of the rated 3 Ah");
  await expect(result).toContainText("21 °C");
  await expect(result).toContainText("It counts as this pack's capacity.");
  await page.getByRole("button", { name: "Save run" }).click();
  await expect(page).toHaveURL(new RegExp(`/p/${code}/run/[0-9A-Z]{26}$`));
  await expect(page.getByRole("heading", { name: "Capacity check, Teal 1" })).toBeVisible();
  await expect(page.getByRole("region", { name: "Result" })).toContainText("Good");
  await expect(page.getByRole("img", { name: /Voltage against time/ })).toBeVisible();
  await expect(lamp(page)).toHaveText("All sent");
  const run = (await phoneEntries(page)).find((entry) => entry.kind === "run");
  expect(run).toMatchObject({ pack: code, body: { purpose: "capacity", options: { load_ohm: 10, stop_v: 10, from_full: true, pack_c: 21 } } });
  const rows = run?.body.rows as { time_s: number; volts: number }[];
  expect(rows[1]!.time_s).toBeGreaterThanOrEqual(300);
  expect(rows[1]!.time_s).toBeLessThan(330);
  await page.goto(`/p/${code}/run`);
  await expect(page.getByRole("link", { name: /%: good/ })).toBeVisible();
});

test("a load far from the standard one is not begun with, and a run that was hardly one is told", async ({ page }) => {
  await page.clock.install();
  await open(page);
  await changeTeam(page, { ohm: "2.5", rating_w: "100" });
  const code = await addPack(page, { name: "Teal 7", capacity_ah: "3", fuse_a: "20" });
  await page.goto(`/p/${code}/run`);
  await expect(page.getByText("With a load of 20 Ω it takes about 5 h 00 min")).toBeVisible();
  await page.getByRole("button", { name: "Capacity check" }).click();
  await expect(field(page, "ohm")).toHaveValue("20");
  await expect(field(page, "rating_w")).toHaveValue("");
  await page.getByRole("button", { name: "Use the team's load" }).click();
  await expect(field(page, "ohm")).toHaveValue("2.5");
  await expect(page.getByText(/8 times the standard one, which takes a fifth of the capacity per hour/)).toBeVisible();
  await fillAll(page, { ohm: "20", rating_w: "50" });
  await page.getByText("The load sits on a heat sink").click();
  await page.getByRole("radio", { name: "Not known" }).check();
  await expect(page.getByText("This run will not count as the pack's capacity")).toBeVisible();
  await page.getByRole("button", { name: "Yes, go on" }).click();
  await page.getByRole("button", { name: "The load is on: start" }).click();
  await keep(page, "12.60");
  await page.clock.fastForward(6000);
  await keep(page, "12.59");
  await expect(page.getByText(/mAh ± /)).toBeVisible();
  await page.clock.fastForward(6000);
  await keep(page, "9.90");
  await page.getByRole("button", { name: "The load is off" }).click();
  const result = page.getByRole("region", { name: "Result" });
  await expect(result).toContainText("Not its capacity");
  await expect(result).toContainText("it does not count as this pack's capacity");
  await expect(result).not.toContainText("retires packs");
  await expect(page.getByText(/^This is not the pack's capacity/)).toBeVisible();
  await expect(page.getByText(/Was the load on from a full charge down to the stop/)).toBeVisible();
});

test("a late reading keeps its own time, nothing is put in between, and a killed tab loses nothing", async ({ page, context }) => {
  await page.clock.install();
  await open(page);
  const code = await addPack(page, { name: "Teal 2", capacity_ah: "3", fuse_a: "20" });
  await toLog(page, code);
  await keep(page, "12.60");
  await page.clock.fastForward(5 * minute);
  await keep(page, "12.55");
  await page.clock.fastForward(22 * minute); // the phone slept
  await expect(page.getByText("This reading was due 17 min ago.")).toBeVisible();
  await field(page, "volts").fill("12.4");
  await expect(page.getByText(/^Kept as read at/)).toBeVisible();
  await expect.poll(async () => ((await draftOf(page, `run:${code}`)) as { text: string } | null)?.text).toBe("12.4");
  const typed = ((await draftOf(page, `run:${code}`)) as { textAt: number }).textAt;
  await page.reload();
  await expectReady(page);
  await expect(field(page, "volts")).toHaveValue("12.4");
  await page.getByRole("button", { name: "Keep this reading" }).click();
  await expect(page.getByText("12.40 V at")).toBeVisible();
  await expect.poll(async () => ((await draftOf(page, `run:${code}`)) as { readings: unknown[] }).readings.length).toBe(3);
  await crash(page);

  const again = await context.newPage();
  await again.clock.install({ time: typed + 10 * minute });
  await open(again, `/p/${code}/run`);
  await again.getByText("3 readings so far").click();
  await expect(again.getByRole("table")).toContainText("12.55 V");
  const { readings } = (await draftOf(again, `run:${code}`)) as { readings: { at: number; volts: number }[] };
  expect(readings.map(({ volts }) => volts)).toEqual([12.6, 12.55, 12.4]);
  expect(readings[2]!.at, "the moment it was typed, not that of the reload").toBe(typed);
  await again.getByRole("button", { name: "Load is off" }).click();
  await expect(again.getByRole("region", { name: "Result" })).toContainText("Ended early");
  await again.getByRole("button", { name: "Throw this run away" }).click();
  await again.getByRole("button", { name: "Undo" }).click();
  await expect(again.getByRole("region", { name: "Result" })).toContainText("Ended early");
});

test("each reading is asked for by sound and vibration until it is taken, and the screen kept on if that is wanted", async ({ page }) => {
  await page.addInitScript(() => {
    const given: string[] = [];
    Object.assign(globalThis, { given });
    Object.defineProperty(Navigator.prototype, "vibrate", { value: (pattern: number | number[]) => given.push(`buzz ${String(pattern)}`) > 0 });
    const request = async (kind: string) => void given.push(`awake ${kind}`);
    Object.defineProperty(Navigator.prototype, "wakeLock", { value: { request: async (kind: string) => (await request(kind), { release: async () => void given.push("let go") }) } });
  });
  await page.clock.install();
  await open(page);
  const code = await addPack(page, { name: "Teal 6", capacity_ah: "3", fuse_a: "20" });
  await toLog(page, code);
  const given = async (what: RegExp) =>
    (await page.evaluate(() => (globalThis as unknown as { given: string[] }).given)).filter((one) => what.test(one)).length;
  await expect.poll(() => given(/^awake screen/)).toBe(1);
  await keep(page, "12.60");
  await page.clock.runFor(200);
  const before = await given(/^buzz/);
  await page.clock.runFor(4 * minute);
  expect(await given(/^buzz/), "nothing before it is due").toBe(before);
  await page.clock.runFor(1 * minute + 30_000);
  expect(await given(/^buzz 300,100,300/)).toBeGreaterThanOrEqual(before + 2);
  await keep(page, "12.50");
  const taken = await given(/^buzz/);
  await page.clock.runFor(2 * minute);
  expect(await given(/^buzz/), "quiet once it was taken").toBe(taken);
  await page.getByText(/^Keep the screen on/).click();
  await expect.poll(() => given(/^let go/)).toBe(1);
  await page.clock.runFor(3 * minute + 1000);
  await keep(page, "9.80");
  await page.clock.runFor(9000);
  expect(await given(/^buzz 100,50,100/), "an alarm goes on until the load is off").toBeGreaterThanOrEqual(2);
});

test("below 1.0 V per cell it says stop, and a mistyped reading can be taken out", async ({ page }) => {
  await page.clock.install();
  await open(page);
  const code = await addPack(page, { name: "Teal 3", capacity_ah: "3", fuse_a: "20" });
  await toLog(page, code);
  await field(page, "volts").fill("1260");
  await page.getByRole("button", { name: "Keep this reading" }).click();
  await expect(field(page, "volts")).toHaveAttribute("aria-invalid", "true");
  await keep(page, "9.9"); // empty from the first reading on
  await expect(page.getByRole("heading", { name: "Take the load off at once" })).toBeVisible();
  await page.getByText("1 reading so far").click();
  await page.getByRole("button", { name: /^Take out the reading/ }).click();
  await keep(page, "12.60");
  await page.clock.fastForward(5 * minute);
  await field(page, "volts").fill("1255");
  await page.getByRole("button", { name: "Keep this reading" }).click();
  await expect(field(page, "volts")).toHaveAttribute("aria-invalid", "true");
  await keep(page, "9.2");
  await expect(page.getByRole("heading", { name: "Take the load off at once" })).toBeVisible();
  await expect(page.getByText("9.20 V is below 1.0 V per cell.")).toBeVisible();
  await page.getByRole("button", { name: /^Take out the reading/ }).first().click();
  await expect(page.getByRole("heading", { name: "Read the meter now" })).toBeVisible();
  await keep(page, "12.5");
});

test("a reading from paper goes in with its own time", async ({ page }) => {
  await page.clock.install({ time: new Date("2026-11-20T10:00:00") });
  await open(page);
  const code = await addPack(page, { name: "Teal 4", capacity_ah: "3", fuse_a: "20" });
  await toLog(page, code);
  await keep(page, "12.60");
  await page.clock.fastForward(30 * minute);
  await keep(page, "12.40");
  await page.getByText("2 readings so far").click();
  await fillAll(page, { paper_at: "2026-11-20T09:00", paper_v: "12.5" });
  await page.getByRole("button", { name: "Put in" }).click();
  await expect(field(page, "paper_at")).toHaveAccessibleDescription(/not a time of this run/);
  await field(page, "paper_at").fill("2026-11-20T10:15");
  await page.getByRole("button", { name: "Put in" }).click();
  await expect(page.getByText("3 readings so far")).toBeVisible();
  await expect(page.getByRole("row").nth(2)).toContainText("12.5 V");
});

test("a pack with a safety finding is not put on the load", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Teal 5", capacity_ah: "3", fuse_a: "20" });
  await page.goto(`/p/${code}/finding`);
  await page.getByRole("radio", { name: "Swollen" }).check();
  await page.getByRole("button", { name: "Save finding" }).click();
  await expect(page).toHaveURL(`/p/${code}`);
  await page.goto(`/p/${code}/run`);
  await page.getByRole("button", { name: "Capacity check" }).click();
  await expect(page.getByText("Do not connect this pack: swollen.")).toBeVisible();
  await expect(page.getByRole("button", { name: "Yes, go on" })).toHaveCount(0);
});
