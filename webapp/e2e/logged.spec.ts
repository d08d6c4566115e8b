// A logger's file: looked at, corrected, read in a worker, saved with its curve.

import { addPack, field, lamp, open } from "./support/app";
import { phoneEntries } from "./support/journal";
import { csvFile, driveLog } from "./support/runs";
import { expect, type Page, test } from "./support/test";

async function choose(page: Page, code: string, name: string, text: string | Buffer): Promise<void> {
  if (new URL(page.url()).pathname !== `/p/${code}/run`) await page.goto(`/p/${code}/run`);
  await expect(page.getByRole("button", { name: "Read a file" })).toBeVisible();
  await page.locator('[name="log"]').setInputFiles(csvFile(name, text));
}

test("a drive is read, shown with its resistances and dips, and saved", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Rust 1", capacity_ah: "3", fuse_a: "20" });
  await choose(page, code, "drive.csv", driveLog(6000));
  await expect(page.getByRole("region", { name: "The first rows", exact: true })).toContainText("12.8 V");
  await page.getByRole("button", { name: "Read the whole file" }).click();
  const result = page.getByRole("region", { name: "Result" });
  await expect(result).toContainText("lowest");
  await expect(result).toContainText(/\d+ times below the brown-out voltage of 8.8 V/);
  const resistance = page.getByRole("region", { name: "Resistance in the run" });
  await expect(resistance).toContainText("Robust slope");
  await expect(resistance).toContainText(/0\.1[12]\d*\sΩ/); // 0.12 Ω was put in
  await page.getByRole("button", { name: "Save run" }).click();
  await expect(page).toHaveURL(new RegExp(`/p/${code}/run/[0-9A-Z]{26}$`));
  await expect(page.getByRole("img", { name: /Voltage against time/ })).toBeVisible();
  await page.reload();
  await expect(page.getByRole("region", { name: "Result" })).toContainText("lowest");
  await expect(lamp(page)).toHaveText("All sent");
  const run = (await phoneEntries(page)).find((entry) => entry.kind === "run");
  const curve = (run?.body.result as { curve: unknown[] }).curve;
  expect(curve.length).toBeGreaterThan(50);
  expect(curve.length).toBeLessThanOrEqual(200);
  expect(run?.body).toMatchObject({ purpose: "drive", file: "drive.csv", options: { brownout_v: 8.8 } });
});

test("semicolons, decimal commas and minutes are found out; what is wrong is corrected by hand", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Rust 2", capacity_ah: "3", fuse_a: "20" });
  const rows = Array.from({ length: 31 }, (_, i) => `${i * 5};${(12.6 - (2.7 * i) / 30).toFixed(2).replace(".", ",")}`);
  await choose(page, code, "discharge.csv", ["Zeit (min);Spannung (V)", ...rows].join("\r\n"));
  const preview = page.getByRole("region", { name: "The first rows", exact: true });
  await expect(preview).toContainText("300 s");
  await page.getByText("Columns, units and signs").click();
  await page.getByLabel("Time is written in").selectOption("s");
  await expect(preview).not.toContainText("300 s");
  await page.getByLabel("Time is written in").selectOption("min");
  await expect(preview).toContainText("300 s");
  await page.getByRole("radio", { name: "A capacity check" }).check();
  await page.getByRole("radio", { name: "Full", exact: true }).check();
  await field(page, "load_ohm").fill("10");
  await page.getByRole("button", { name: "Read the whole file" }).click();
  await expect(page.getByRole("region", { name: "Result" })).toContainText("of the rated 3 Ah");
  await expect(page.getByRole("region", { name: "Result" })).toContainText("Good"); // 2.5 h at about 1.1 A
});

test("times without a unit are told, and a log of minutes read as seconds is no capacity", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Rust 7", capacity_ah: "3", fuse_a: "20" });
  const rows = Array.from({ length: 102 }, (_, i) => `${i},${(12.6 - (2.7 * i) / 101).toFixed(2)}`);
  await choose(page, code, "minutes.csv", ["time,volts", ...rows].join("\n"));
  await expect(page.getByText(/times are taken as seconds, 102 rows over 101 s/)).toBeVisible();
  await page.getByRole("radio", { name: "A capacity check" }).check();
  await field(page, "load_ohm").fill("10");
  await page.getByRole("button", { name: "Read the whole file" }).click();
  await expect(page.getByText("Say whether the pack was full.")).toBeVisible();
  await page.getByRole("radio", { name: "Not known" }).check();
  await page.getByRole("button", { name: "Read the whole file" }).click();
  const result = page.getByRole("region", { name: "Result" });
  await expect(result).toContainText("Not its capacity");
  await expect(page.getByText(/in minutes it would be 61 % of the rating/)).toBeVisible();
  await page.getByRole("button", { name: "Change how it is read" }).click();
  await page.getByRole("radio", { name: "Minutes", exact: true }).check();
  await expect(page.getByText(/times are taken as minutes, 102 rows over 101 min/)).toBeVisible();
  await page.getByRole("button", { name: "Read the whole file" }).click();
  const why = "Not known to have been full: it does not count as this pack's capacity.";
  await expect(result).toContainText(why);
  await expect(result).not.toContainText("At its end");
  await page.getByRole("button", { name: "Save run" }).click();
  await expect(page).toHaveURL(new RegExp(`/p/${code}/run/[0-9A-Z]{26}$`));
  await expect(result).toContainText(why);
  await page.goto(`/p/${code}/run`);
  await expect(page.getByRole("link", { name: /%: does not count/ })).toBeVisible();
});

test("a run with dated rows has the time of the first one, and the rows fit a phone", async ({ page }) => {
  await page.setViewportSize({ width: 360, height: 740 });
  await open(page);
  const code = await addPack(page, { name: "Rust 8", capacity_ah: "3", fuse_a: "20" });
  const rows = Array.from({ length: 20 }, (_, i) => `2026-03-29 10:00:${String(i).padStart(2, "0")},12.${60 - i},${2 + (i % 3)}`);
  await choose(page, code, "dated.csv", ["timestamp,volts,amps", ...rows].join("\n"));
  await expect(field(page, "started_at")).toHaveValue("2026-03-29T10:00");
  await expect(field(page, "started_at")).toHaveAccessibleDescription(/From the first row/);
  const table = page.getByRole("region", { name: "The first rows as they are read" });
  await expect(table.getByText("2026-03-29 10:00:00 | 12.60 | 2", { exact: true })).toBeVisible();
  expect(await table.evaluate((box) => box.scrollWidth - box.clientWidth)).toBe(0);
  await field(page, "started_at").fill("2026-03-28T09:30");
  await page.getByText("Columns, units and signs").click();
  await page.getByLabel("Amps are in").last().selectOption("mA");
  await expect(field(page, "started_at"), "what was typed stays").toHaveValue("2026-03-28T09:30");
});

test("gaps, times that go back, spikes and rows that are none are told, and the rest counts", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Rust 3", capacity_ah: "3", fuse_a: "20" });
  const lines = driveLog(3000).trimEnd().split("\n");
  lines[500] = "12.0,12.700,3.00"; // one time out of order
  lines[900] = "error,--,--";
  lines[901] = lines[901]!.split(",").slice(0, 1).join(",");
  lines.splice(1200, 700); // 70 s are missing
  await choose(page, code, "odd.csv", lines.join("\n"));
  await page.getByRole("button", { name: "Read the whole file" }).click();
  const odd = page.getByRole("region", { name: "Odd rows" });
  for (const words of ["Rows with a cell that is not a number: 1", "Rows with too few columns: 1", "Rows whose time does not fit between its neighbours: 1", "Gaps between rows: 1"]) {
    await expect(odd).toContainText(words);
  }
  await odd.getByText("Which").first().click();
  await expect(odd).toContainText("Line 901");
  await expect(page.getByRole("region", { name: "Result" })).toContainText("lowest");
});

test("millivolts are found out", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Rust 4", capacity_ah: "3", fuse_a: "20" });
  const rows = Array.from({ length: 60 }, (_, i) => `${i},${12600 - i},${2000 + ((i * 37) % 500)}`);
  await choose(page, code, "mv.csv", ["t,u,i", ...rows].join("\n"));
  await expect(page.getByText(/taken as millivolts/)).toBeVisible();
  await expect(page.getByText(/taken as milliamps/)).toBeVisible();
  await expect(page.getByRole("region", { name: "The first rows", exact: true })).toContainText("12.6 V");
});

const png = Buffer.from("iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==", "base64");
const unreadable: [what: string, content: string | Buffer, says: RegExp][] = [
  ["an empty file", "", /the file is empty/],
  ["a picture", png, /the file is not text/],
  ["a spreadsheet", "PK\u0003\u0004spreadsheet", /not a CSV file/],
  ["a letter", "Dear team,\nplease find the log attached.\nBye\n", /no row of readings was found/],
  ["a table of one column of numbers", "name,volts\nBlue,12.8\nRed,12.7\n", /not enough columns of numbers|no row of readings/],
];
test("what is no log is refused in a sentence, and another file can be chosen", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Rust 5" });
  for (const [what, content, says] of unreadable) {
    await choose(page, code, "file.csv", content);
    await expect(page.getByRole("alert").filter({ hasText: "This file cannot be read" }), what).toContainText(says);
    await expect(page.getByRole("button", { name: "Read the whole file" })).toHaveCount(0);
    await page.getByRole("button", { name: "Another file" }).click();
  }
  await choose(page, code, "utf16.csv", Buffer.from("\ufeff" + driveLog(100), "utf16le"));
  await expect(page.getByRole("region", { name: "The first rows", exact: true })).toContainText("12.8 V");
});

test("a long file shows how far it is and can be stopped; the page stays alive", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Rust 6", capacity_ah: "3", fuse_a: "20" });
  await choose(page, code, "long.csv", driveLog(600_000, 0.05));
  await page.getByRole("button", { name: "Read the whole file" }).click();
  await expect(page.getByRole("heading", { name: "Reading the file" })).toBeVisible();
  await expect(page.getByText(/^[1-9]\d? %/)).toBeVisible();
  await page.getByRole("button", { name: "Stop reading" }).click();
  await expect(page.getByRole("heading", { name: "Is it read rightly?" })).toBeVisible();
  await expect(page.getByRole("button", { name: "Read the whole file" })).toBeEnabled();
  expect(await phoneEntries(page)).toHaveLength(1);
  await page.getByRole("button", { name: "Read the whole file" }).click();
  await expect(page.getByRole("heading", { name: "What the file shows" })).toBeVisible({ timeout: 90_000 });
});
