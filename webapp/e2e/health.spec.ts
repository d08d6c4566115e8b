// A pack over a season: its plot, its trend, its findings, and what a repair changes.

import { expectReady, field, lamp, open } from "./support/app";
import { phoneEntries } from "./support/journal";
import { packOf, testsOf } from "./support/season";
import { expect, type Page, test } from "./support/test";

const rising = [0.08, 0.0816, 0.0829, 0.0846, 0.0862, 0.0873, 0.0891, 0.0908];

/** picture is what the canvas of the plot shows, as a data address: for comparing only. */
function picture(page: Page): Promise<string> {
  return page.locator(".plot canvas").evaluate((canvas: HTMLCanvasElement) => canvas.toDataURL());
}

test("a steady rise: dates, plot, table, and the test behind a point", async ({ page, server }) => {
  const { code, entry } = packOf("Sorrel");
  const tests = testsOf(code, rising);
  const [partial] = testsOf(code, [0.12], 14, { charge: "partial" });
  await server.push([entry, ...tests, partial!]);
  await open(page);
  await page.goto(`/p/${code}`);
  await expectReady(page);
  const short = page.getByRole("region", { name: "Health over the season" });
  await expect(short).toContainText(/it rises by .* in 30 days and crosses 0\.1 Ω/i);
  await short.getByRole("link", { name: "Trend, findings and forecast" }).click();

  await expect(page.getByRole("heading", { level: 1 })).toHaveText("Health of Sorrel");
  const trend = page.getByRole("region", { name: "Trend", exact: true });
  // by hand: 0.0092 Ω to go from the last test at 0.0015 Ω in 14 days take 86 days, from 20 November 2026 to 14 February 2027
  await expect(trend).toContainText(/That is not before \d+ (Jan|Feb) 2027 \(95 %\), most likely about 1[3-5] Feb 2027/);
  const plot = page.getByRole("region", { name: "Resistance over time" });
  await expect(plot.locator("canvas")).toBeVisible();
  await expect(plot.locator(".keys")).toContainText(/Test ± U.*Not in the trend.*Trend, 95 %.*Carried on/);

  // the newest is told of at once; the buttons and a tap lead to others
  const told = plot.getByRole("status");
  await expect(told).toContainText("20 Nov 2026");
  await plot.getByRole("button", { name: "Earlier" }).click();
  await plot.getByRole("button", { name: "Earlier" }).click();
  await expect(told).toContainText("0.0891 Ω");
  await expect(told).toContainText("6 Nov 2026, in the trend");
  const first = await plot.locator(".u-over").evaluate((over) => {
    const { left, top, width, height } = over.getBoundingClientRect();
    return { left, top, width, height };
  });
  await page.mouse.click(first.left + first.width * 0.06, first.top + first.height * 0.8);
  await expect(told).toContainText("0.0800 Ω");
  await told.getByRole("link", { name: "Open this test" }).click();
  await expect(page).toHaveURL(`/p/${code}/test/${tests[0]!.id}`);
  await page.goBack();

  await page.getByText("The same as a table").click();
  const table = page.getByRole("region", { name: "Tests as a table" }).getByRole("row");
  await expect(table).toHaveCount(1 + rising.length + 1);
  await expect(table.filter({ hasText: /0\.120/ })).toContainText("not in the trend: the pack was not full");
  await page.getByText("Tests that do not compare: 1").click();
  await expect(page.getByRole("link", { name: /0\.120.*the pack was not full/ })).toBeVisible();
});

test("the plot is drawn anew in another width and in the other theme", async ({ page, server }) => {
  const { code, entry } = packOf("Sorrel");
  await server.push([entry, ...testsOf(code, rising)]);
  await page.emulateMedia({ colorScheme: "light" });
  await open(page, `/p/${code}/health`);
  const canvas = page.locator(".plot canvas");
  await expect(canvas).toBeVisible();
  const light = await picture(page);
  await page.emulateMedia({ colorScheme: "dark" });
  await expect.poll(() => picture(page)).not.toBe(light);
  for (const width of [320, 1280]) {
    await page.setViewportSize({ width, height: 800 });
    await expect
      .poll(() => canvas.evaluate((drawn: HTMLCanvasElement) => drawn.getBoundingClientRect().width - (drawn.closest(".plot")?.clientWidth ?? 0)))
      .toBeCloseTo(0, 0);
  }
});

test("no test, and too few: said plainly", async ({ page, server }) => {
  const none = packOf("Teasel", 0);
  const two = packOf("Yarrow", 1);
  await server.push([none.entry, two.entry, ...testsOf(two.code, [0.08, 0.081])]);
  await open(page, `/p/${none.code}/health`);
  await expect(page.getByText("No test with a result yet.")).toBeVisible();
  await expect(page.getByText("Not known before a load test with a result.")).toBeVisible();
  await page.goto(`/p/${two.code}/health`);
  await expect(page.getByText(/Too few comparable tests for a trend/)).toBeVisible();
  await expect(page.locator(".plot canvas")).toBeVisible();
});

test("a repair starts a new baseline, is marked, and can be voided", async ({ page, server }) => {
  const { code, entry } = packOf("Sorrel");
  await server.push([entry, ...testsOf(code, [...rising.map((ohm) => ohm - 0.01), 0.13, 0.131])]);
  await open(page, `/p/${code}/health`);
  await expect(page.getByRole("region", { name: "What the history points to" })).toContainText(/lead|contact/i);
  await page.getByRole("link", { name: "Record a repair" }).first().click();
  await page.getByRole("button", { name: "Save repair" }).click();
  await expect(field(page, "part").first()).toBeFocused();
  await page.getByRole("radio", { name: "Lead" }).check();
  await field(page, "text").fill("crimp at the plug made anew");
  await field(page, "day").fill("2030-01-01");
  await page.getByRole("button", { name: "Save repair" }).click();
  await expect(field(page, "day")).toHaveAccessibleDescription(/still to come/);
  await field(page, "day").fill("2026-11-21");
  await page.reload();
  await expect(page.getByText("You left this half filled. It is as it was.")).toBeVisible();
  await page.getByRole("button", { name: "Save repair" }).click();
  await expect(page).toHaveURL(`/p/${code}/health`);
  await expect(page.locator(".keys")).toContainText("Repair");
  expect((await phoneEntries(page)).find(({ kind }) => kind === "repair")?.body).toEqual({
    part: "lead",
    text: "crimp at the plug made anew",
    day: "2026-11-21",
  });
  await page.getByText("Repairs: 1").click();
  await page.getByRole("button", { name: "Void as mistaken repair" }).click();
  await expect(page.locator(".keys")).not.toContainText("Repair");
  await expect(lamp(page)).toHaveText("All sent");
  expect((await server.entries()).map(({ kind }) => kind).slice(-2)).toEqual(["repair", "voided"]);
});

test("the demo season: every pack's health opens, and no screen fails", async ({ page }) => {
  test.setTimeout(300_000);
  await open(page);
  await page.getByRole("button", { name: "Load the demo season" }).click();
  await page.getByRole("button", { name: "Yes, load the invented entries" }).click();
  await expect(page.getByText("Demo season loaded")).toBeVisible();
  await expect(page.locator(".packs a").first()).toBeVisible();
  const packs = await page.locator(".packs a").evaluateAll((links) => links.map((link) => link.getAttribute("href") ?? ""));
  for (const pack of packs) {
    await page.goto(`${pack}/health`);
    await expect(page.getByRole("heading", { level: 1 })).toHaveText(/^Health of /);
    await expect(page.getByRole("region", { name: "What the history points to" })).toBeVisible();
    await expect(page.getByText("It cannot be worked out")).toBeHidden();
  }
});
