// Days are those of the place: what the core says in a sentence and what the screen
// writes beside it are the same day, also where it is another one in Greenwich.

import { readFileSync } from "node:fs";
import { field, open } from "./support/app";
import { entryAt, leaveUnsent, packCodes } from "./support/journal";
import { expect, test } from "./support/test";

const notRested = {
  method: "known-load",
  open_v: [12.84],
  loaded_v: [12.71],
  load_ohm: 4.7,
  load_uncertainty_ohm: 0.05,
  meter: { reading_pct: 0.5, counts: 2, resolution_v: 0.01 },
  read_after_s: 5,
  charge: "full",
  rested_min: 5,
};

/** The phone's journal: a pack tested once, at a time, and an event on 22 November. */
function journalOf(code: string, tested: string) {
  const at = Date.parse(tested);
  return [
    entryAt(at - 2000, "team-changed", "", { event_date: "2026-11-22", wanted_packs: 2, delivery_days: 1 }),
    entryAt(at - 1000, "pack-added", code, { name: "Ivory 1", capacity_ah: 3, cells: 10, fuse_a: 20 }),
    entryAt(at, "load-test", code, notRested),
  ];
}

const code = packCodes(1)[0]!;
const places = [
  { zone: "America/Los_Angeles", tested: "2026-11-20T19:30:00-08:00", now: "2026-11-22T20:00:00-08:00" }, // the 21st and the 23rd in Greenwich
  { zone: "Pacific/Auckland", tested: "2026-11-20T08:30:00+13:00", now: "2026-11-22T08:00:00+13:00" }, // the 19th and the 21st
];
for (const { zone, tested, now } of places) {
  test.describe(zone, () => {
    test.use({ timezoneId: zone });

    test("a sentence and the screen around it name the same day", async ({ page }) => {
      await page.context().route("**/api/**", (route) => route.abort()); // the server's clock knows better
      await page.clock.install({ time: new Date(now) });
      await open(page);
      await leaveUnsent(page, journalOf(code, tested));
      await page.goto(`/p/${code}`);
      await expect(page.getByRole("region", { name: "Tests" })).toContainText("20 Nov 2026");
      await page.goto(`/p/${code}/health`);
      const found = page.getByRole("region", { name: "What the history points to" });
      await expect(found).toContainText("20 Nov 2026: it had rested 5 min"); // the core's sentence
      await expect(found).toContainText(/since 20 Nov 2026/i); // the screen's
      await page.goto("/board");
      await expect(field(page, "day")).toHaveValue("2026-11-22"); // the event's, all day long
      await expect(page.getByRole("region", { name: "Fit for competition" })).toContainText("On 22 Nov 2026");
      const buy = page.getByRole("region", { name: "What to buy" });
      await expect(buy).toContainText("2 packs fit on 22 Nov 2026; ordered today they are ready about 23 Nov 2026");
      await expect(page.getByRole("region", { name: "In short" })).toContainText("For 22 Nov 2026: 2 wanted"); // the screen's
      const waiting = page.waitForEvent("download");
      await page.getByRole("button", { name: "Calendar file of all packs" }).click();
      expect(readFileSync(await (await waiting).path(), "utf8")).toContain("DTSTART;VALUE=DATE:20261220"); // 30 days after the test
    });
  });
}

test("after a journey the core counts days by the new place", async ({ page }) => {
  const browser = await page.context().newCDPSession(page);
  const travel = (timezoneId: string) => browser.send("Emulation.setTimezoneOverride", { timezoneId });
  await travel("America/Los_Angeles");
  await page.context().route("**/api/**", (route) => route.abort());
  await page.clock.install({ time: new Date("2026-11-22T08:00:00Z") });
  await open(page);
  await leaveUnsent(page, journalOf(code, "2026-11-20T19:30:00-08:00"));
  await page.goto(`/p/${code}/health`);
  const found = page.getByRole("region", { name: "What the history points to" });
  await expect(found).toContainText("20 Nov 2026: it had rested 5 min");
  await travel("Europe/Berlin");
  await page.getByRole("link", { name: "Ivory 1" }).first().click();
  await page.goBack();
  await expect(found).toContainText("21 Nov 2026: it had rested 5 min");
  await expect(found).toContainText(/since 21 Nov 2026/i);
});
