// Old tests from a spreadsheet: matched, looked at, saved in batches, undone.

import { addPack, lamp, open } from "./support/app";
import { phoneEntries } from "./support/journal";
import { csvFile, oldTests } from "./support/runs";
import { expect, type Page, test } from "./support/test";

async function choose(page: Page, name: string, text: string | Buffer): Promise<void> {
  if (new URL(page.url()).pathname !== "/import") await page.goto("/import");
  await expect(page.getByRole("button", { name: "Choose a CSV file" })).toBeVisible();
  await page.locator('[name="table"]').setInputFiles(csvFile(name, text));
}

/** The load tests on the phone, in the order in which they were made. */
async function tests(page: Page) {
  const made = (await phoneEntries(page)).filter((entry) => entry.kind === "load-test");
  return made.toSorted((a, b) => (a.hlc < b.hlc ? -1 : 1));
}

test("a table is matched, shown with its faults, saved and undone from the toast and later", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Gold 1", capacity_ah: "3", fuse_a: "20" });
  await choose(
    page,
    "old tests.csv",
    Buffer.from(
      ["Pack;Datum;Leerlauf (V);Last (V);Widerstand (Ω)", "Gold 1;03.09.2025;12,84;12,71;10", "Gold 1;17.09.2025;12,90;12,75;10", "Gold 9;17.09.2025;12,90;12,75;10", "Gold 1;31.02.2025;12,9;12,7;10", ""].join("\n"),
      "utf8",
    ),
  );
  await expect(page.getByRole("heading", { name: "Is it read rightly?" })).toBeVisible();
  await page.getByLabel("Pack", { exact: true }).selectOption("pack");
  await page.getByLabel("Datum").selectOption("date");
  await page.getByLabel("Leerlauf (V)").selectOption("open_v");
  await page.getByLabel("Last (V)").selectOption("loaded_v");
  await page.getByLabel("Widerstand (Ω)").selectOption("load_ohm");
  await page.getByLabel("Dates are written").selectOption("dmy");
  await expect(page.getByText("2 rows can be saved.")).toBeVisible();
  const bad = page.getByRole("region", { name: "2 rows that cannot be saved" });
  await expect(bad).toContainText("Line 4:");
  await expect(bad).toContainText("Line 5:");
  await page.getByRole("button", { name: "Save 2 tests" }).click();
  await expect(page.getByText("2 tests saved on this device")).toBeVisible();
  const made = await tests(page);
  const imported = (await phoneEntries(page)).find((entry) => entry.kind === "import");
  expect(made.map(({ pack, body }) => [pack, body.import, body.open_v])).toEqual([
    [code, imported?.id, [12.84]],
    [code, imported?.id, [12.9]],
  ]);
  await page.getByRole("button", { name: "Undo", exact: true }).click();
  await expect(page.getByText("Taken back")).toBeVisible();
  const before = page.getByRole("region", { name: "Read in before" });
  await expect(before).toContainText("undone");
  await before.getByRole("button", { name: /^Bring back/ }).click();
  await expect(before.getByRole("button", { name: /^Undo all of it/ })).toBeVisible();
  await page.goto(`/p/${code}`);
  await expect(page.getByRole("region", { name: "Tests" }).getByRole("listitem")).toHaveCount(2);
  await page.goto("/import");
  await page.getByRole("button", { name: /^Undo all of it/ }).click();
  await expect(before).toContainText("undone");
  await page.goto(`/p/${code}`);
  await expect(page.getByText("Not tested").first()).toBeVisible();
  await expect(lamp(page)).toHaveText("All sent");
});

test("the load is known by its head, swapped voltages are refused, and a time of day has its name", async ({ page }) => {
  await open(page);
  await addPack(page, { name: "Gold 6", capacity_ah: "3", fuse_a: "20" });
  const rows = ["Gold 6;03.09.2025;14:05;12,84;12,31;2,5", "Gold 6;17.09.2025;14:10;12,33;12,90;2,5"];
  await choose(page, "laden.csv", ["Akku;Datum;Uhrzeit;Leerlauf V;Last V;Widerstand Last", ...rows, ""].join("\n"));
  await expect(page.getByLabel("Uhrzeit")).toHaveValue("time");
  await expect(page.getByLabel("Last V", { exact: true })).toHaveValue("loaded_v");
  await expect(page.getByLabel("Widerstand Last")).toHaveValue("load_ohm");
  await expect(page.getByRole("region", { name: "1 row that cannot be saved" })).toContainText("Line 3:");
  await expect(page.getByRole("button", { name: "Save 1 test" })).toBeEnabled();
  await page.getByLabel("Widerstand Last").selectOption("resistance");
  await page.getByLabel("Last V", { exact: true }).selectOption("");
  await expect(page.getByRole("region", { name: "2 rows that cannot be saved" })).toContainText("2.5 Ω is too much for 10 cells: is this the load, or another unit?");
  await expect(page.getByRole("button", { name: "Save 0 tests" })).toBeDisabled();
});

test("a test whose table was undone says so, and comes back with its table only", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Gold 5", capacity_ah: "3", fuse_a: "20" });
  await choose(page, "b.csv", "pack,date,open voltage (V),loaded voltage (V),load (Ω)\nGold 5,2025-09-03,12.84,12.71,10\n");
  await page.getByRole("button", { name: "Save 1 test" }).click();
  await expect(page.getByText("1 test saved on this device")).toBeVisible();
  const [made] = await tests(page);
  await page.getByRole("button", { name: "Undo", exact: true }).click();
  await expect(page.getByText("Taken back")).toBeVisible();
  await page.goto(`/p/${code}/test/${made!.id}`);
  await expect(page.getByText("Voided: it does not count.")).toBeVisible();
  await expect(page.getByRole("button", { name: "Bring back" })).toHaveCount(0);
  await expect(page.getByRole("button", { name: "Void this test as mistaken" })).toHaveCount(0);
  await page.getByRole("link", { name: "Undone with the table it came from" }).click();
  await page.getByRole("button", { name: /^Bring back/ }).click();
  await expect(page.getByRole("button", { name: /^Undo all of it/ })).toBeVisible();
  await page.goto(`/p/${code}/test/${made!.id}`);
  await expect(page.getByRole("button", { name: "Void this test as mistaken" })).toBeVisible();
  await expect(page.getByText("Voided: it does not count.")).toHaveCount(0);
});

test("the same table again saves nothing twice", async ({ page }) => {
  await open(page);
  await addPack(page, { name: "Gold 2", capacity_ah: "3", fuse_a: "20" });
  const table = "pack,date,open voltage (V),loaded voltage (V),load (Ω)\nGold 2,2025-09-03,12.84,12.71,10\n";
  await choose(page, "a.csv", table);
  await page.getByRole("button", { name: "Save 1 test" }).click();
  await expect(page.getByText("1 test saved on this device")).toBeVisible();
  await choose(page, "a.csv", table);
  await expect(page.getByText("1 row left out: the same test is there already, or twice in the file.")).toBeVisible();
  await expect(page.getByRole("button", { name: "Save 0 tests" })).toBeDisabled();
});

test("thousands of rows are saved in batches and the page tells how far it is", async ({ page }) => {
  test.setTimeout(240_000);
  await open(page);
  await addPack(page, { name: "Gold 3", capacity_ah: "3", fuse_a: "20" });
  await page.goto("/");
  await page.getByRole("link", { name: "Board" }).click();
  await page.getByRole("link", { name: "Read in old tests from a table" }).click();
  await page.locator('[name="table"]').setInputFiles(csvFile("many.csv", oldTests("Gold 3", 3000)));
  await page.getByRole("button", { name: "Save 3000 tests" }).click();
  await expect(page.getByText(/^\d+ of 3000$/)).toBeVisible();
  await expect(page.getByText("3000 tests saved on this device")).toBeVisible({ timeout: 180_000 });
  expect(await tests(page)).toHaveLength(3000);
});

test("what is no table is refused in a sentence", async ({ page }) => {
  await open(page);
  await addPack(page, { name: "Gold 4" });
  for (const [content, says] of [
    ["", /empty/],
    [Buffer.from([0x89, 0x50, 0x4e, 0x47, 0, 0, 0, 13]), /the file is not text/],
  ] as const) {
    await choose(page, "x.csv", content);
    await expect(page.getByRole("alert").filter({ hasText: "This file cannot be read" })).toContainText(says);
  }
});
