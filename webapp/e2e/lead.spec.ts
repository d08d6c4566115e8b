// What a lead costs, and the team's settings for a season.

import { addPack, expectReady, field, fillAll, open } from "./support/app";
import { phoneEntries } from "./support/journal";
import { packOf, testsOf } from "./support/season";
import { expect, test } from "./support/test";

test("a lead part by part, beside the pack's latest test, kept through a reload", async ({ page, server }) => {
  const { code, entry } = packOf("Sorrel");
  await server.push([entry, ...testsOf(code, [0.1])]);
  await open(page, `/p/${code}/lead`);
  await expect(page.getByText("Lead: Its length is missing.")).toBeVisible();
  await expect(field(page, "joints[0].fuse_a")).toHaveValue("20"); // of the profile
  await field(page, "wires[0].size").fill("16");
  await field(page, "wires[0].length_mm").fill("300");
  await expect(field(page, "wires[0].size")).toHaveAccessibleDescription(/could be a gauge or mm²/);
  await field(page, "wires[0].size").fill("16 AWG");
  await expect(field(page, "wires[0].size")).toHaveAccessibleDescription(/= 16 AWG/);
  const parts = page.getByRole("region", { name: "Parts of the lead" });
  // ASTM B258: 13.2 mΩ/m for 16 AWG at 20 °C, from memory; 0.6 m, 25 °C and what strands add make 8.26 mΩ
  await expect(parts.getByRole("row").filter({ hasText: "Lead" })).toContainText("8.26");
  await expect(page.getByText(/^Of .*, cells and the tabs between them have/)).toBeVisible();
  await expect(page.getByRole("region", { name: "What would gain most" })).toContainText("Saves");
  await page.getByRole("button", { name: "Take out joint 2" }).click();
  await expect(parts.getByRole("row")).toHaveCount(1 + 4);
  await page.getByRole("button", { name: "Add a joint" }).click();
  await field(page, "joints[3].kind").selectOption("other");
  await expect(page.getByText("Something else, measured: What it measures is missing.")).toBeVisible();
  await field(page, "joints[3].ohm").fill("5 mΩ");
  await expect(parts.getByRole("row").filter({ hasText: "Other joint" })).toContainText("5.00");
  await expect.poll(async () => (await page.getByRole("region", { name: "Result" }).textContent()) ?? "").toMatch(/mΩ ±/);
  await page.waitForTimeout(400); // the draft is written a moment after typing
  await page.reload();
  await expectReady(page);
  await expect(field(page, "joints[3].ohm")).toHaveValue("5 mΩ");
  await expect(parts.getByRole("row").filter({ hasText: "Lead" })).toContainText("8.26");
});

test("the settings of a season: sources beside the fields, saved as what changed", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Lime 7" });
  await page.goto("/setup");
  await page.getByRole("link", { name: /^Season/ }).click();
  await expect(page.getByText("60 % of the rating ends the endurance test")).toBeVisible();
  await fillAll(page, { event_name: "Valley round", event_date: "2027-03-06", wanted_packs: "2.5", charge_factor: "115" });
  await field(page, "reference_pack").selectOption(code);
  await page.getByRole("button", { name: "Save for the team" }).click();
  await expect(field(page, "wanted_packs")).toBeFocused();
  await field(page, "wanted_packs").fill("5");
  await field(page, "capacity_end_pct").fill("90");
  await page.getByRole("button", { name: "Save for the team" }).click();
  await expect(field(page, "capacity_end_pct")).toHaveAccessibleDescription(/cannot be at its end/);
  await field(page, "capacity_end_pct").fill("70");
  await page.getByRole("button", { name: "Save for the team" }).click();
  await expect(page).toHaveURL("/setup");
  expect((await phoneEntries(page)).find(({ kind }) => kind === "team-changed")?.body).toEqual({
    event_name: "Valley round",
    event_date: "2027-03-06",
    wanted_packs: 5,
    charge_factor: 1.15,
    capacity_end_pct: 70,
    reference_pack: code,
  });
  await page.goto("/setup/season");
  await expect(field(page, "charge_factor")).toHaveValue("115");
  await page.getByText("History of these settings").click();
  await expect(page.getByText("Next event: Valley round")).toBeVisible();
});

test("retiring asks why, and the reason stands on the pack", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Lime 8" });
  await page.goto(`/p/${code}/edit`);
  const retired = page.getByRole("checkbox", { name: /^Retired/ });
  await retired.check();
  await page.getByRole("button", { name: "Save changes" }).click();
  await expect(field(page, "retired_why")).toBeFocused();
  await field(page, "retired_why").fill("lost a cell");
  await page.getByRole("button", { name: "Save changes" }).click();
  await expect(page.getByText("Retired: Lost a cell.")).toBeVisible();
  await expect(page.getByText(/hand it in where local rules say/)).toBeVisible();
  await page.goto(`/p/${code}/edit`);
  await retired.uncheck();
  await page.getByRole("button", { name: "Save changes" }).click();
  await expect(page).toHaveURL(`/p/${code}`);
  const changes = (await phoneEntries(page)).filter(({ kind }) => kind === "profile-changed").map(({ body }) => body);
  expect(changes).toEqual([
    { retired: true, retired_why: "lost a cell" },
    { retired: false, retired_why: "" },
  ]);
});
