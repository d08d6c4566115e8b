// Charges: noted when they start and end, judged, due, and in a calendar.

import { readFileSync } from "node:fs";
import { addPack, field, fillAll, lamp, open } from "./support/app";
import { draftOf, phoneEntries } from "./support/journal";
import { expect, type Page, test } from "./support/test";

async function downloaded(page: Page, button: string): Promise<{ name: string; text: string }> {
  const waiting = page.waitForEvent("download");
  await page.getByRole("button", { name: button }).click();
  const file = await waiting;
  return { name: file.suggestedFilename(), text: readFileSync(await file.path(), "utf8") };
}

test("a charge is started, kept as running, ended, judged, taken back and voided", async ({ page }) => {
  await page.clock.install({ time: new Date("2026-11-20T09:00:00") });
  await page.context().route("**/api/**", (route) => route.abort()); // the server's clock is another day's
  await open(page);
  const code = await addPack(page, { name: "Plum 1", capacity_ah: "3", fuse_a: "20" });
  await page.goto(`/p/${code}/charges`);
  await page.getByRole("button", { name: "Started now" }).click();
  await expect(field(page, "started_at")).toHaveValue("2026-11-20T09:00");
  await expect(page.getByText("kept on this device as running")).toBeVisible();
  await expect.poll(() => draftOf(page, `charge:${code}`)).not.toBeNull();
  await page.clock.fastForward(3 * 3_600_000);
  await page.reload();
  await expect(field(page, "started_at")).toHaveValue("2026-11-20T09:00");
  await page.getByRole("button", { name: "Ended now" }).click();
  await fillAll(page, { charger: "Bench", current_a: "1", put_in_ah: "2900 mAh" });
  await page.getByRole("button", { name: "Save charge" }).click();
  await expect(page.getByText("What ended the charge is missing.")).toBeVisible();
  await page.getByRole("radio", { name: "Full, says the charger" }).check();
  await page.getByRole("button", { name: "Save charge" }).click();
  await expect(page.getByText("Charge saved on this device")).toBeVisible();
  const list = page.getByRole("region", { name: "Charges so far" });
  await expect(list).toContainText("2.9 Ah put in · at 1 A · Full, says the charger · charger: Bench");
  const made = (await phoneEntries(page)).find((entry) => entry.kind === "charge");
  expect(made?.body).toMatchObject({ purpose: "use", charger: "Bench", current_a: 1, put_in_ah: 2.9, ended: "full" });
  expect(Date.parse(made?.body.ended_at as string) - Date.parse(made?.body.started_at as string)).toBe(3 * 3_600_000);
  await page.getByRole("button", { name: "Undo" }).click();
  await expect(list.getByRole("button", { name: /^Bring back/ })).toBeVisible();
  await list.getByRole("button", { name: /^Bring back/ }).click();
  await expect(list.getByRole("button", { name: /^Void as mistaken/ })).toBeVisible();
});

test("times that cannot be are said beside their field", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Plum 2", capacity_ah: "3" });
  await page.goto(`/p/${code}/charges`);
  await page.getByRole("radio", { name: "Not known" }).check();
  await page.getByRole("button", { name: "Save charge" }).click();
  await expect(field(page, "started_at")).toHaveAccessibleDescription(/start is missing/);
  await fillAll(page, { started_at: "2026-11-20T12:00", ended_at: "2026-11-20T11:00" });
  await page.getByRole("button", { name: "Save charge" }).click();
  await expect(field(page, "ended_at")).toHaveAccessibleDescription(/before the start/);
  await fillAll(page, { started_at: "2199-11-20T12:00", ended_at: "" });
  await page.getByRole("button", { name: "Save charge" }).click();
  await expect(field(page, "started_at")).toHaveAccessibleDescription(/still to come/);
  expect((await phoneEntries(page)).filter((entry) => entry.kind === "charge")).toEqual([]);
});

test("too little put in is said, and what is due goes into a calendar", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Plum 3", capacity_ah: "3", fuse_a: "20" });
  await page.goto(`/p/${code}/charges`);
  await fillAll(page, { started_at: "2026-01-10T10:00", ended_at: "2026-01-10T10:20", put_in_ah: "0.3", missing_ah: "2.5" });
  await page.getByRole("radio", { name: "Full, says the charger" }).check();
  await page.getByRole("button", { name: "Save charge" }).click();
  const list = page.getByRole("region", { name: "Charges so far" });
  await expect(list.locator(".note.warm")).toContainText("0.3 Ah");
  await expect(page.getByRole("region", { name: "What is due" })).toContainText("due now");
  await expect(lamp(page)).toHaveText("All sent");
  const { name, text } = await downloaded(page, "Calendar file of all packs");
  expect(name).toBe("packwright-due.ics");
  expect(text.startsWith("BEGIN:VCALENDAR\r\n")).toBe(true);
  expect(text).toContain("BEGIN:VEVENT");
  expect(text.replaceAll("\r\n ", "")).toContain("Plum 3");
});
