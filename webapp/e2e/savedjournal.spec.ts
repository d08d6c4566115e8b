// A journal that was saved as a file, read in by a lead.

import { writeFileSync } from "node:fs";
import { lamp, open } from "./support/app";
import { test as fieldTest } from "./support/field";
import { entryAt, notes, phoneEntries } from "./support/journal";
import { type Entry } from "./support/server";
import { expect, type Page, test } from "./support/test";

async function choose(page: Page, file: string, lines: (object | string)[]): Promise<void> {
  writeFileSync(file, lines.map((line) => (typeof line === "string" ? line : JSON.stringify(line))).join("\n"));
  await page.locator('[name="journal"]').setInputFiles(file);
}

test("what is new is kept and sent, what is known is left, what is no entry is refused with its line and reason", async ({ page, server }, info) => {
  const file = info.outputPath("journal.jsonl");
  const known = notes(3);
  await server.push(known);
  await open(page, "/setup/journal");
  await expect.poll(async () => (await phoneEntries(page)).length).toBe(3);
  const fresh = notes(1200, "00000000000000bb", Date.UTC(2026, 10, 21));
  const newer: Entry = { ...entryAt(Date.UTC(2026, 10, 22), "wind-measured", "", { a: 1 }, "00000000000000bb"), v: 9 };
  const altered = { ...known[0], body: { text: "altered" } };
  const turned = Object.fromEntries(Object.entries(known[1] as Entry).reverse()); // the same, its members in another order
  await choose(page, file, [...fresh, newer, ...known.slice(1), turned, altered, "", { ...notes(1)[0], body: {} }, "{half a line", "7"]);
  await expect(page.getByText("1201 new entries saved on this device.")).toBeVisible();
  await expect(page.getByText("3 were here already.")).toBeVisible();
  const refused = page.getByRole("region", { name: "4 lines not taken" });
  for (const words of ["Line 1205: Another entry with this id is here already.", "Line 1207: The note is empty.", "Line 1208: This line is no entry.", "Line 1209:"]) {
    await expect(refused).toContainText(words);
  }
  await expect(lamp(page)).toHaveText("All sent", { timeout: 60_000 });
  const held = new Map((await server.entries()).map((entry) => [entry.id, entry]));
  expect(held.size).toBe(1204);
  expect(held.get(newer.id)).toEqual(newer); // as it came
  expect(held.get(known[0]?.id ?? "")).toEqual(known[0]);

  await choose(page, file, [...fresh, newer]);
  await expect(page.getByText("Nothing new.")).toBeVisible();
  await expect(page.getByText("1201 were here already.")).toBeVisible();
});

test("files that are no journal are refused in words", async ({ page }, info) => {
  await open(page, "/setup/journal");
  await choose(page, info.outputPath("empty.jsonl"), ["", ""]);
  await expect(page.getByText("Not all of it was read: the file holds no entry")).toBeVisible();
  await choose(page, info.outputPath("endless.jsonl"), ["x".repeat(3 << 20)]);
  await expect(page.getByText("Not all of it was read: the file is no saved journal: a line does not end")).toBeVisible();
  expect(await phoneEntries(page)).toEqual([]);
});

fieldTest("a crew device is not offered it", async ({ field, fieldPhone }) => {
  const page = await (await fieldPhone("trusting")).newPage();
  await page.goto(await field.invite());
  await page.locator('[name="name"]').fill("pit phone 9");
  await page.getByRole("button", { name: "Join", exact: true }).click();
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("Joined");
  await page.goto("/setup");
  await expect(page.getByText("Crew", { exact: true })).toBeVisible();
  await expect(page.getByRole("link", { name: "Read a saved journal" })).toHaveCount(0);
  await page.goto("/setup/journal");
  await expect(page.getByText("Only a lead reads in a journal.")).toBeVisible();
});
