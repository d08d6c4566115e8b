// What the team set before stays in sight, and a mistaken setting can be voided.

import { changeTeam, field, lamp, open } from "./support/app";
import { expect, test } from "./support/test";

test("an earlier setting is kept, marked, and comes back when the later one is voided", async ({ page }) => {
  await open(page);
  await changeTeam(page, { competition_ohm: "0.12" });
  await changeTeam(page, { competition_ohm: "0.11", rating_w: "" });
  await page.goto("/setup/team");
  await page.getByText("History of the settings").click();
  const limits = page.getByText(/^Limit for competition, Ω: /);
  await expect(limits).toHaveText(["Limit for competition, Ω: 0.11", "Limit for competition, Ω: 0.12 (overtaken)"]);
  await expect(page.getByText("Load: 10 Ω, ± 5 %", { exact: true })).toBeVisible();
  await expect(page.getByText("read the rating off the part and enter it", { exact: false }).first()).toBeVisible();

  await page.getByRole("button", { name: /^Void as mistaken settings entry/ }).first().click();
  await expect(page.getByText("Settings entry voided")).toBeVisible();
  await expect(limits).toHaveText(["Limit for competition, Ω: 0.11", "Limit for competition, Ω: 0.12"]);
  await expect(field(page, "competition_ohm")).toHaveValue("0.12");
  await expect(lamp(page)).toHaveText("All sent");
});
