// What comes before a pack's usual care, over the demo season: a swollen pack, one
// that lost a cell, one that was mended.

import { readFileSync } from "node:fs";
import { field, open } from "./support/app";
import { expect, type Page, test } from "./support/test";

const [rook, curlew, bittern, teal] = ["NPG9T1", "4BW21M", "02ATPS", "E9KVV4"];

async function loadDemo(page: Page): Promise<void> {
  await open(page);
  await page.getByRole("button", { name: /demo season/i }).click();
  await page.getByRole("button", { name: "Yes, load the invented entries" }).click();
  await expect(page.getByRole("button", { name: /Competition/ })).toBeVisible();
}

const region = (page: Page, name: string) => page.getByRole("region", { name, exact: true });

test("a swollen pack is asked for nothing, on no screen", async ({ page }) => {
  await loadDemo(page);
  await page.goto(`/p/${rook}/health`);
  const findings = region(page, "What the history points to");
  await expect(findings.getByText("Nothing until a qualified person has looked at it; do not charge or use it.").first()).toBeVisible();
  await expect(findings).toContainText("Cells are ageing");
  await expect(findings).not.toContainText(/two weeks|next useful test|capacity, and plan/);
  await expect(region(page, "On the field")).toContainText("It is not to be used.");
  await expect(region(page, "Capacity and charging")).toContainText("Swollen: do not charge or use it, so nothing is due.");
  await page.goto(`/p/${rook}/charges`);
  await expect(region(page, "What is due")).toContainText("Swollen: do not charge or use it, so nothing is due.");
  await expect(region(page, "What is due").getByRole("listitem")).toHaveCount(0);

  await page.goto("/board");
  const row = region(page, "What to do about packs").getByRole("listitem").filter({ hasText: "Rook" });
  await expect(row).toContainText(/Set aside\..*swollen.*Nothing until a qualified person/);
  await expect(row).not.toContainText(/Test it|charge it/);
  const side = page.getByRole("region", { name: "Packs side by side" }).getByRole("row").filter({ hasText: "Rook" });
  await expect(side).toContainText(/not to be used\s*Swollen, Cells are ageing/);
  const saved = page.waitForEvent("download");
  await page.getByRole("button", { name: "Calendar file of all packs" }).click();
  const calendar = readFileSync(await (await saved).path(), "utf8");
  expect(calendar).toContain("Teal");
  expect(calendar).not.toMatch(/Rook|Curlew/);
});

test("what a retired pack is told depends on what is wrong with it", async ({ page }) => {
  await loadDemo(page);
  for (const [code, words, never] of [
    [rook, "It is not handed in as a worn pack: it is for a qualified person.", "household waste: insulate"],
    [curlew, "It is not handed in as a worn pack: it is for a qualified person.", "household waste: insulate"],
    [teal, "A worn pack is no household waste: insulate its terminals and hand it in where local rules say", "qualified person"],
  ] as const) {
    await page.goto(`/p/${code}/edit`);
    await page.getByLabel(/^Retired/).check();
    await expect(page.getByText(words)).toBeVisible();
    await field(page, "retired_why").fill("done with");
    await page.getByRole("button", { name: "Save changes" }).click();
    const notice = page.locator(".note").filter({ hasText: "Retired: Done with." });
    await expect(notice).toContainText(words);
    await expect(notice).not.toContainText(never);
  }
});

test("without a cell: one form of words, no routine charge, and no test that calls it fit", async ({ page }) => {
  await loadDemo(page);
  await expect(page.getByRole("link", { name: /Curlew/ })).toContainText(/Retest.*Look first: a cell is lost/);
  await page.goto("/board");
  await expect(region(page, "In short")).toContainText(/Lost cell\s*Curlew\s*A cell is lost\./);
  await expect(region(page, "What to do about packs")).toContainText(/Curlew.*A cell is lost\..*Charge it once more/s);
  await page.goto(`/p/${curlew}/charges`);
  await expect(region(page, "What is due")).toContainText("A cell is lost: charge it only as its page says, so nothing is due.");
  await page.goto(`/p/${curlew}`);
  const tests = region(page, "Tests").getByRole("link");
  await expect(tests.first()).toContainText("Resistance alone: a cell is lost");
  await expect(tests.nth(4)).toContainText(/Competition · 26 Oct/);
  await tests.first().click();
  const result = region(page, "Result");
  await expect(result.locator(".outcome")).toHaveText("Resistance alone");
  await expect(result).toContainText("A cell is lost. A good resistance does not make the pack fit.");
  await expect(result).not.toContainText("Chance that the pack");
});

test("a mended pack asks for its test until there is one", async ({ page }) => {
  await loadDemo(page);
  const row = page.getByRole("link", { name: /Bittern/ });
  await expect(row).toContainText(/Practice.*Look at the lead/);
  await page.goto(`/p/${bittern}/repair`);
  await page.getByLabel("Connector").check();
  await field(page, "text").fill("crimped anew");
  await page.getByRole("button", { name: "Save repair" }).click();
  const words = /[Mm]ended on \d+ [A-Z][a-z]{2} \d{4}, not tested since/;
  await expect(region(page, "Capacity and charging")).toContainText(/Test: due now\.\s*Mended on /);
  await expect(region(page, "What the history points to")).toContainText(words);
  await page.goto("/board");
  await expect(region(page, "Test next").getByRole("listitem").first()).toContainText(/Bittern.*Mended on /);
  await expect(region(page, "What to do about packs").getByRole("listitem").filter({ hasText: "Bittern" })).toContainText(/not tested since: test it now\./);
  const side = page.getByRole("region", { name: "Packs side by side" }).getByRole("row").filter({ hasText: "Bittern" });
  await expect(side.getByRole("cell").last()).toHaveText("not known");
  await page.goto("/");
  await expect(row).toContainText(/Retest.*Mended on .*: test it now/);
});

test("what nothing practical would decide says what to do instead", async ({ page }) => {
  await loadDemo(page);
  await expect(page.getByRole("link", { name: /Avocet/ })).toContainText(/Treat as practice.*Too close to the limit to decide/);
  await page.goto("/p/191VCY");
  await expect(region(page, "Result").locator(".outcome")).toHaveText("Treat as practice");
  await expect(region(page, "What to do next")).toContainText("for practice only, and test it when it is due");
  await expect(region(page, "Seen by eye")).toContainText("None.");
});
