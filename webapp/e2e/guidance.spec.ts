// What leads a newcomer past the usual stumbles: said in place, and with a way back.

import { addPack, changeTeam, field, fillAll, guidedReading, hurry, lamp, open, startGuided } from "./support/app";
import { phoneEntries, prefOf } from "./support/journal";
import { expect, test } from "./support/test";

test("a temperature no pack has is asked about before the test, and can be changed from the result", async ({ page }) => {
  await page.clock.install();
  await open(page);
  await changeTeam(page, { read_after_s: "1", repeats: "1" });
  const code = await addPack(page, { name: "Lime 1" });
  await page.getByRole("link", { name: "Start test" }).click();
  await page.getByRole("button", { name: "Yes, go on" }).click();
  await page.getByRole("button", { name: "I have read this" }).click();
  const next = page.getByRole("button", { name: "Next: open-circuit reading" });
  const meant = page.getByRole("button", { name: "It is right: go on" });
  const temperature = field(page, "temperature_c");
  await temperature.fill("200");
  await next.click();
  await expect(temperature).toBeFocused();
  await expect(temperature).toHaveAccessibleDescription(/200 °C is outside what a pack may have\. Was that °F\?/);
  await expect(meant).toBeVisible();
  await temperature.fill("20");
  await expect(meant).toBeHidden();
  await field(page, "rested_min").fill("10"); // too short to compare, but it may be so
  await next.click();
  await expect(field(page, "rested_min")).toHaveAccessibleDescription(/10 min of rest is short/);
  await meant.click();
  await guidedReading(page, "12.84", "12.71", hurry);
  await page.getByRole("button", { name: "See the result" }).click();
  await page.getByRole("button", { name: "Change these" }).click();
  await field(page, "rested_min").fill("90");
  await page.getByRole("button", { name: "Back to the result" }).click();
  await page.getByRole("button", { name: "Save test" }).click();
  await expect(page.getByText("Test saved on this device")).toBeVisible();
  const made = (await phoneEntries(page)).find((entry) => entry.kind === "load-test");
  expect(made).toMatchObject({ pack: code, body: { temperature_c: 20, rested_min: 90 } });
});

test("a new step takes the focus at once, so never from a field that the person has reached meanwhile", async ({ page }) => {
  await page.clock.install();
  await open(page);
  await addPack(page, { name: "Lime 3" });
  await page.getByRole("link", { name: "Start test" }).click();
  const goOn = page.getByRole("button", { name: "Yes, go on" });
  await expect(goOn).toBeEnabled();
  await page.clock.pauseAt(Date.now() + 60_000); // from here on nothing comes later
  await goOn.click();
  await expect(page.getByRole("heading", { name: "Before you connect" })).toBeFocused();
});

test("starting afresh can be taken back, and the box goes once the person goes on", async ({ page }) => {
  await page.clock.install();
  await open(page);
  await changeTeam(page, { read_after_s: "1", repeats: "2" });
  const code = await addPack(page, { name: "Lime 2" });
  await startGuided(page, code);
  await guidedReading(page, "12.84", "12.71", hurry);
  await page.getByRole("link", { name: "Lime 2" }).click();
  await page.getByRole("link", { name: "Start test" }).click();
  const box = page.getByText("You left this half filled.");
  await expect(box).toBeVisible();
  await page.getByRole("button", { name: "Start afresh" }).click();
  await expect(page.getByRole("heading", { name: "Is this what you have?" })).toBeVisible();
  await page.getByRole("button", { name: "Undo" }).click();
  await expect(page.getByRole("table", { name: "As typed" })).toContainText("12.71 V");
  await page.reload();
  await expect(page.getByRole("table", { name: "As typed" })).toContainText("12.71 V");
  await expect(box).toBeVisible();
  await page.getByRole("button", { name: "Next reading" }).click();
  await expect(page.getByRole("heading", { name: "Open-circuit voltage" })).toBeVisible();
  await expect(box).toBeHidden();
});

test("initials are asked on the first form, until they are given or not wanted that day", async ({ page }) => {
  await open(page, "/add");
  await field(page, "initials").fill("KM");
  await page.getByRole("button", { name: "Use these initials" }).click();
  await expect(field(page, "initials")).toBeHidden();
  await addPack(page, { name: "Lime 3" });
  expect(await phoneEntries(page)).toMatchObject([{ kind: "pack-added", by: "KM" }]);

  await page.goto("/setup");
  await expect(field(page, "initials")).toHaveValue("KM");
  await field(page, "initials").fill("");
  await expect.poll(() => prefOf(page, "initials")).toBe("");
  await page.goto("/add");
  await page.getByRole("button", { name: "Not today" }).click();
  await expect(field(page, "initials")).toBeHidden();
  await expect.poll(() => prefOf(page, "unasked")).not.toBeNull();
  await page.reload();
  await expect(field(page, "name")).toBeVisible();
  await expect(field(page, "initials")).toBeHidden();
});

test("a pack goes into service within days or not at all", async ({ page }) => {
  const inDays = (days: number) => new Date(Date.now() + days * 86_400_000).toISOString().slice(0, 10);
  await open(page, "/add");
  await fillAll(page, { name: "Lime 4", in_service: inDays(60) });
  await page.getByRole("button", { name: "Save pack" }).click();
  await expect(field(page, "in_service")).toHaveAccessibleDescription(/This date is still to come/);
  expect(await phoneEntries(page)).toEqual([]);
  await field(page, "in_service").fill(inDays(3));
  await expect(field(page, "in_service")).toHaveAccessibleDescription(/Still to come: in [234] days/);
  await page.getByRole("button", { name: "Save pack" }).click();
  await expect(page).toHaveURL(/\/p\//);
});

test("an address that no other phone opens is mended before the first label, where it is printed", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Lime 5" });
  await expect(lamp(page)).toHaveText("All sent");
  for (const path of ["/paper", `/p/${code}/label`]) {
    await page.goto(path);
    await expect(page.getByText("this address works on this computer only")).toBeVisible();
  }
  await field(page, "base_url").fill("pit");
  await page.getByRole("button", { name: "Save address" }).click();
  await expect(field(page, "base_url")).toHaveAttribute("aria-invalid", "true");
  await field(page, "base_url").fill("https://pit.local");
  await page.getByRole("button", { name: "Save address" }).click();
  await expect(page.getByText("The labels open https://pit.local.")).toBeVisible();
  await expect(page.getByRole("img")).toHaveAccessibleName(/HTTPS:\/\/PIT\.LOCAL/);
});

test("a printer that is off to one side is put right on Paper", async ({ page }) => {
  await open(page);
  await addPack(page, { name: "Lime 6" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto("/paper");
  await page.getByText("Printer shifts the print").click();
  await fillAll(page, { "offset-x": "1,5", "offset-y": "2" });
  await page.getByRole("radio", { name: "To the left" }).check();
  await page.getByRole("button", { name: "Prepare labels for 1 pack" }).click();
  const href = (await page.getByRole("link", { name: "Open labels for 1 pack" }).getAttribute("href")) ?? "";
  const query = new URL(href, page.url()).searchParams;
  expect([query.get("offset-x"), query.get("offset-y")]).toEqual(["-1.5", "2"]);
});

test("the quick form names what a result still waits for", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Lime 7" });
  await page.goto(`/p/${code}/quick`);
  await expect(page.getByText("as soon as the readings are complete")).toBeVisible();
  await fillAll(page, { "open_v.0": "12.84", "loaded_v.0": "12.71" });
  await expect(page.getByRole("region", { name: "Result" })).toBeVisible();
  await page.getByText("Typed in from paper").click();
  await expect(page.getByText("as soon as this is mended: the date on the sheet is missing.")).toBeVisible();
});
