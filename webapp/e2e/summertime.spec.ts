// The two nights of the year on which the clocks change: a time on paper stays
// one moment, tests stand in the order in which they were made, and days are
// those of the calendar. The zone is that of central Europe, where it is 02:30
// twice on 25 October 2026 and never on 29 March.

import { addPack, field, fillAll, lamp, open } from "./support/app";
import { entryAt, leaveUnsent, packCodes } from "./support/journal";
import type { Entry } from "./support/server";
import { expect, test } from "./support/test";

test.use({ timezoneId: "Europe/Berlin" });

test("tests made on paper in those nights keep their moment and their order", async ({ page, newPhone, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Ivory 1" });
  const sheets: [typed: string, shown: string, moment: string][] = [
    ["2026-10-25T02:30", "25 Oct 2026, 02:30", "2026-10-25T00:30:00.000Z"], // the first of the two
    ["2026-10-25T03:10", "25 Oct 2026, 03:10", "2026-10-25T02:10:00.000Z"],
    ["2026-10-25T01:50", "25 Oct 2026, 01:50", "2026-10-24T23:50:00.000Z"],
    ["2026-03-29T02:30", "29 Mar 2026, 03:30", "2026-03-29T01:30:00.000Z"], // as a clock shows it that was not put forward
  ];
  for (const [typed, shown] of sheets) {
    await page.goto(`/p/${code}/quick`);
    await page.getByText("Typed in from paper").click();
    await fillAll(page, { "open_v.0": "12.84", "loaded_v.0": "12.71", taken_at: typed });
    await expect(field(page, "taken_at")).toHaveValue(typed);
    await page.getByRole("button", { name: "Save test" }).click();
    await expect(page.getByText(shown, { exact: false }).first()).toBeVisible();
  }
  await expect(lamp(page)).toHaveText("All sent");
  const made = (await server.entries()).filter((entry) => entry.kind === "load-test");
  expect(made.map(({ body }) => body.taken_at)).toEqual(sheets.map(([, , moment]) => moment));

  const newestFirst = [1, 0, 2, 3].map((i) => new RegExp(sheets[i]![1]));
  for (const phone of [page, await newPhone()]) {
    await phone.goto(`/p/${code}`);
    const tests = phone.getByRole("region", { name: "Tests" }).getByRole("listitem");
    await expect(tests).toHaveText(newestFirst);
  }
});

const oneNightApart: { season: string; now: string; tested: [when: string, age: string][] }[] = [
  {
    season: "spring: the day has 23 hours",
    now: "2026-03-29T12:30:00+02:00",
    tested: [
      ["2026-03-28T12:45:00+01:00", "yesterday"], // 22 h 45 min
      ["2026-03-29T00:15:00+01:00", "today"],
      ["2026-03-22T13:00:00+01:00", "7 days ago"],
      ["2026-02-26T12:00:00+01:00", "31 days ago"], // so old that it stands among the reasons
    ],
  },
  {
    season: "autumn: the day has 25 hours",
    now: "2026-10-25T23:45:00+01:00",
    tested: [
      ["2026-10-25T00:15:00+02:00", "today"], // 24 h 30 min
      ["2026-10-24T23:50:00+02:00", "yesterday"],
      ["2026-10-18T00:30:00+02:00", "7 days ago"],
      ["2026-09-24T23:00:00+02:00", "31 days ago"],
    ],
  },
];
for (const { season, now, tested } of oneNightApart) {
  test(`days since the last test in ${season}`, async ({ page }) => {
    await page.context().route("**/api/**", (route) => route.abort()); // the server's clock knows better
    await page.clock.install({ time: new Date(now) });
    await open(page);
    const reading = { method: "direct-dc", resistance_ohm: [0.05], accuracy_pct: 1, counts: 1, resolution_ohm: 0.0001 };
    const codes = packCodes(tested.length);
    const entries = tested.flatMap(([when], i): Entry[] => [
      entryAt(Date.parse(when) - 1000, "pack-added", codes[i]!, { name: `Ivory ${i}`, capacity_ah: 3, cells: 10, fuse_a: 20 }),
      entryAt(Date.parse(when), "direct-reading", codes[i]!, reading),
    ]);
    await leaveUnsent(page, entries);
    await page.reload();
    for (const [i, [when, age]] of tested.entries()) {
      const row = page.locator(".packs > li").filter({ hasText: codes[i]! });
      await expect(row.getByText(age, { exact: true }), when).toBeVisible();
      if (age === "31 days ago") await expect(row).toContainText("Last test 31 days ago");
      await row.getByRole("link").click();
      await expect(page.getByText(`Last tested ${age}.`), when).toBeVisible();
      await page.getByRole("link", { name: "Packs" }).click();
    }
  });
}
