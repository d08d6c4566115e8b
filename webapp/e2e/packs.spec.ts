// The fleet at a glance: what needs attention stands first, and any pack is
// found by its name, its code or its outcome.

import { addNote, expectReady, field, open } from "./support/app";
import { entryAt, packCodes } from "./support/journal";
import type { Entry } from "./support/server";
import { expect, type Page, test } from "./support/test";

test.use({ timezoneId: "UTC" });

const noon = Date.UTC(2026, 10, 25, 12);
const daysBefore = (days: number) => noon - days * 86_400_000;
const codes = packCodes(9);

/**
 * The fleet in the order wanted, which is that of no name and no code. The
 * limit is the default 0.1 Ω, practice up to 0.2 Ω; a test is old after 30 days.
 */
const fleet: { name: string; code: string; ohm?: number; days?: number; finding?: string; shows: RegExp; when: string }[] = [
  { name: "Kestrel", code: codes[4]!, ohm: 0.05, days: 2, finding: "swollen", shows: /Set aside.*Do not use: swollen/, when: "2 days ago" },
  { name: "Wren", code: codes[0]!, ohm: 0.3, days: 0, shows: /Set aside: resistance too high/, when: "today" },
  { name: "Crane 2", code: codes[7]!, ohm: 0.1, days: 1, shows: /Retest: not decided/, when: "yesterday" },
  { name: "Owl", code: codes[2]!, shows: /Not tested.*No test yet/, when: "" },
  { name: "Heron", code: codes[6]!, ohm: 0.06, days: 55, shows: /Competition.*Last test 55 days ago/, when: "55 days ago" },
  { name: "Dunlin", code: codes[1]!, ohm: 0.09, days: 12, shows: /Competition/, when: "12 days ago" },
  { name: "Crane 1", code: codes[3]!, ohm: 0.13, days: 29, shows: /Practice/, when: "29 days ago" },
  { name: "Avocet", code: codes[5]!, ohm: 0.05, days: 3, shows: /Competition/, when: "3 days ago" },
];

function entries(): Entry[] {
  return fleet.flatMap(({ name, code, ohm, days = 0, finding }) => {
    const made = [entryAt(daysBefore(60), "pack-added", code, { name, capacity_ah: 3, cells: 10, fuse_a: 20 })];
    const reading = { method: "direct-dc", resistance_ohm: [ohm], accuracy_pct: 1, counts: 1, resolution_ohm: 0.0001 };
    if (ohm) made.push(entryAt(daysBefore(days), "direct-reading", code, reading));
    if (finding) made.push(entryAt(daysBefore(days), "inspection", code, { finding }));
    return made;
  });
}

const rows = (page: Page) => page.locator(".packs > li");
const row = (page: Page, name: string) => rows(page).filter({ has: page.getByText(name, { exact: true }) });
const search = (page: Page) => page.getByRole("searchbox", { name: "Search by name or code" });
const only = (page: Page, outcome: RegExp) => page.getByRole("group", { name: "Show only" }).getByRole("button", { name: outcome });

/** expectShown wants these packs in this order, and their number told to a screen reader. */
async function expectShown(page: Page, names: string[], why: string): Promise<void> {
  await expect(rows(page).locator(".name"), why).toHaveText(names);
  await expect(page.getByRole("status").filter({ hasText: / shown$/ }), why).toHaveText(names.length === 1 ? "1 pack shown" : `${names.length} packs shown`);
}

test.beforeEach(async ({ page, server }) => {
  await server.push(entries());
  await page.clock.install({ time: noon });
  await open(page);
  await expect(rows(page)).toHaveCount(fleet.length);
});

test("what needs attention stands first and says why; each test tells its age", async ({ page }) => {
  await expectShown(page, fleet.map((pack) => pack.name), "the order of attention");
  for (const { name, code, shows, when } of fleet) {
    await expect(row(page, name)).toContainText(code);
    await expect(row(page, name)).toContainText(shows);
    const ages = row(page, name).getByText(/^(today|yesterday|\d+ days ago)$/);
    await expect(ages, name).toHaveText(when ? [when] : []);
  }
  await expect(row(page, "Dunlin")).toContainText(/0\.0900\s?Ω±\s0\.00\d\d\sΩ/);
});

test("search by name and by code, with and without an outcome", async ({ page }) => {
  const names = fleet.map((pack) => pack.name);
  const searches: [text: string, found: string[]][] = [
    ["crane", ["Crane 2", "Crane 1"]],
    [" CRANE 1 ", ["Crane 1"]],
    [codes[6]!, ["Heron"]],
    [`${codes[6]!.slice(0, 3)}-${codes[6]!.slice(3)}`.toLowerCase(), ["Heron"]],
    ["7k3q", names],
    ["", names],
  ];
  for (const [text, found] of searches) {
    await search(page).fill(text);
    await expectShown(page, found, text);
  }
  await search(page).fill("no such pack");
  await expect(page.getByText("No pack fits. Clear the search or choose another outcome.")).toBeVisible();
  await expect(rows(page)).toHaveCount(0);
  await search(page).fill("");

  const outcomes: [outcome: RegExp, found: string[]][] = [
    [/^3 Competition$/, ["Heron", "Dunlin", "Avocet"]],
    [/^1 Practice$/, ["Crane 1"]],
    [/^1 Retest$/, ["Crane 2"]],
    [/^2 Set aside$/, ["Kestrel", "Wren"]],
    [/^1 Not tested$/, ["Owl"]],
  ];
  for (const [outcome, found] of outcomes) {
    await only(page, outcome).click();
    await expect(only(page, outcome)).toHaveAttribute("aria-pressed", "true");
    await expectShown(page, found, String(outcome));
  }
  await only(page, /Practice/).click();
  await search(page).fill("crane");
  await expectShown(page, ["Crane 1"], "both must fit");
  await only(page, /Practice/).click(); // once more takes it off
  await expect(only(page, /Practice/)).toHaveAttribute("aria-pressed", "false");
  await expectShown(page, ["Crane 2", "Crane 1"], "the search alone");
});

test("a row with an unsent entry says so until the server has it", async ({ page, server }) => {
  const unsent = page.locator(".packs > li", { hasText: "unsent" });
  await expect(unsent).toHaveCount(0);
  await server.stop();
  await addNote(page, codes[6]!, "one cell runs warm");
  await page.goto("/");
  await expect(unsent.locator(".name")).toHaveText(["Heron"]);
  await server.start();
  await expect(unsent).toHaveCount(0);
  await expect(rows(page)).toHaveCount(fleet.length);
});

test("a retired pack leaves the list and the counts, is still found, and can come back", async ({ page }) => {
  const retired = page.getByRole("checkbox", { name: /^Retired/ });
  await page.goto(`/p/${codes[0]!}`);
  const retire = async () => {
    await page.getByRole("link", { name: "Change profile or retire" }).click();
    await expect(page.getByRole("heading", { name: "Retire this pack" })).toBeVisible();
    await retired.check();
    await field(page, "retired_why").fill("lost a cell");
    await page.getByRole("button", { name: "Save changes" }).click();
    await expect(page.getByText("Retired: Lost a cell.")).toBeVisible();
  };
  await retire();
  await page.getByRole("button", { name: "Undo" }).click();
  await expect(page.getByText("Retired: Lost a cell.")).toHaveCount(0);
  await retire();
  await page.goto("/");
  const others = fleet.map((pack) => pack.name).filter((name) => name !== "Wren");
  await expectShown(page, others, "without the retired one");
  await expect(only(page, /Set aside/)).toHaveAccessibleName("1 Set aside");
  await search(page).fill("wren");
  await expectShown(page, ["Wren"], "searched for");
  await expect(row(page, "Wren")).toContainText("Retired");
  await search(page).fill("");
  await only(page, /^1 Retired$/).click();
  await expectShown(page, ["Wren"], "the retired ones");

  await row(page, "Wren").getByRole("link").click();
  await page.getByRole("link", { name: "Change profile" }).click();
  await expect(field(page, "name")).toHaveValue("Wren");
  await retired.uncheck();
  await page.getByRole("button", { name: "Save changes" }).click();
  await expect(page).toHaveURL(`/p/${codes[0]!}`);
  await page.goto("/");
  await expectReady(page);
  await expectShown(page, fleet.map((pack) => pack.name), "back in its place");
  await expect(only(page, /Retired/)).toBeHidden();
});
