// The fleet board over the demo season: what a mentor reads within two minutes.

import { readFileSync } from "node:fs";
import { field, lamp, open } from "./support/app";
import { expect, type Locator, type Page, test } from "./support/test";

async function loadDemo(page: Page): Promise<void> {
  await open(page);
  await page.getByRole("button", { name: /demo season/i }).click();
  await page.getByRole("button", { name: "Yes, load the invented entries" }).click();
  await expect(page.getByRole("button", { name: /Competition/ })).toBeVisible();
}

test("from home to the board: fit now and then, what to buy, what to test, side by side", async ({ page }) => {
  await loadDemo(page);
  await page.getByRole("link", { name: "Board" }).click();
  await expect(page.getByRole("heading", { name: "Fleet board" })).toBeVisible();
  const short = page.getByRole("region", { name: "In short" });
  await expect(short.getByRole("heading")).toHaveText(/^For Spring final in the county hall, 6 Mar 2027: 8 wanted$/);
  await expect(short).toContainText(/Take\s*Heron, Snipe \(last test \d+ days ago\), Grebe, Teal\s*Mend the lead/);
  await expect(short).toContainText(/Test first\s*Avocet, Coot\s*Leave at home\s*(?=.*Rook)(?=.*Curlew)(?=.*Bittern).*Reference: rests\s*Kestrel/s);
  await expect(short).toContainText(/Mend the lead\s*Bittern\s*Where the lead enters the connector: crimp anew/);
  await expect(short).toContainText(/Lost cell\s*Curlew\s*A cell is lost\.\s*Buy/);
  await expect(short).toContainText(/Buy\s*[1-9] packs, order by \d+ [A-Z][a-z]+ 2027\s*Test Coot first: if it is fit, (it is (one|\d) fewer|none is to be bought)/);
  const fit = page.getByRole("region", { name: "Fit for competition" });
  await expect(fit).toContainText(/Now\s*\d+/);
  await expect(fit).toContainText(/At least \d+ with 95 % probability/);
  await expect(fit).toContainText(/Each pack counts with its chance .* \(Avocet [\d.]+ %\), so it may be more than now/);
  await expect(page.getByRole("region", { name: "What to buy" })).toContainText(/pack|Nothing/);
  await expect(page.getByRole("region", { name: "Test next" }).getByRole("listitem")).toHaveCount(5);
  await expect(page.getByRole("region", { name: "Test next" }).getByRole("listitem").first()).toBeVisible();
  const table = page.getByRole("region", { name: "Packs side by side" });
  expect(await table.getByRole("row").count()).toBeGreaterThanOrEqual(12);
  await expect(table).toContainText(/Rising|Steady|Too few tests/);
  await expect(table.getByRole("row", { name: /^Coot/ })).toContainText(/not tested$/);
  await expect(table.getByRole("row", { name: /^Kestrel/ })).toContainText(/reference: rests$/);
  await expect(page.getByRole("region", { name: "Recycling" })).toContainText("local rules");
});

test("another day and another number change the answer; impossible ones are said", async ({ page }) => {
  await loadDemo(page);
  await page.goto("/board");
  const buy = page.getByRole("region", { name: "What to buy" });
  await field(page, "wanted").fill("30");
  await expect(buy).toContainText(/\d+ packs/);
  await field(page, "wanted").fill("1");
  await expect(buy).toContainText("Nothing");
  await field(page, "wanted").fill("100000");
  await expect(page.getByText(/more than any team has/)).toBeVisible();
  await field(page, "wanted").fill("");
  await field(page, "day").fill("2126-01-01");
  await expect(page.getByRole("region", { name: "Fit for competition" })).toContainText("1 Jan 2126");
  await field(page, "day").fill("2020-01-01");
  await expect(field(page, "day")).toHaveAccessibleDescription(/this day is over/i);
});

test("another day is not called the event, and what comes too late is said at once", async ({ page }) => {
  await loadDemo(page);
  await page.goto("/board");
  const day = field(page, "day");
  await expect(day).toHaveAccessibleDescription("Spring final in the county hall");
  const soon = new Date(Date.now() + 12 * 86_400_000).toISOString().slice(0, 10);
  await day.fill(soon);
  const short = page.getByRole("region", { name: "In short" });
  await expect(short.getByRole("heading")).toHaveText(/^For \d+ [A-Z][a-z]+ 20\d\d: 8 wanted$/);
  await expect(day).toHaveAccessibleDescription("");
  await expect(short).toContainText(/Buy\s*\d packs, too late to order: ordered today they are ready about .*, with 28 days for delivery/);
  await expect(short).not.toContainText("order by");
  await expect(page.getByRole("region", { name: "What to buy" })).not.toContainText("Order by");
});

test("on a small phone the answers come first, dates stand whole in their fields, and the table says that it goes on", async ({ page }) => {
  await loadDemo(page);
  await page.setViewportSize({ width: 360, height: 740 });
  await page.goto("/board");
  const buy = await page.getByRole("region", { name: "In short" }).getByText(/^\d packs, order by/).boundingBox();
  const dock = await page.locator(".dock").boundingBox();
  expect(buy && dock && buy.y + buy.height, "the four answers stand on the first screen").toBeLessThan(dock?.y ?? 0);
  await wholeDate(field(page, "day"));
  const table = page.getByRole("region", { name: "Packs side by side" });
  expect(await table.evaluate((wrap) => wrap.scrollWidth - wrap.clientWidth)).toBeGreaterThan(100);
  const hint = page.getByText("The table is wider than the screen");
  await expect(hint).toBeVisible();
  await page.setViewportSize({ width: 1280, height: 800 });
  await expect(hint).toBeHidden();
  expect(await table.evaluate((wrap) => wrap.scrollWidth - wrap.clientWidth)).toBe(0);

  await page.setViewportSize({ width: 360, height: 740 });
  await page.goto("/paper");
  await wholeDate(page.getByLabel("Date"));
});

/** wholeDate: a field has room for ten characters and the sign of a calendar. */
async function wholeDate(date: Locator): Promise<void> {
  const room = await date.evaluate((input: HTMLInputElement) => {
    const style = getComputedStyle(input);
    const pen = document.createElement("canvas").getContext("2d")!;
    pen.font = style.font;
    const sign = 2 * parseFloat(style.fontSize);
    return input.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) - sign - pen.measureText("00/00/0000").width;
  });
  expect(room).toBeGreaterThan(0);
}

test("the report is drawn by the server for the day and number that the board shows", async ({ page }) => {
  await loadDemo(page);
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto("/board");
  await field(page, "wanted").fill("9");
  await expect(page.getByRole("region", { name: "What to buy" })).toContainText("9 packs");
  await page.getByRole("button", { name: "Prepare fleet report" }).click();
  const link = page.getByRole("link", { name: "Open fleet report" });
  await expect(link).toHaveAttribute("href", /fleetreport\.pdf\?wanted=9&paper=A4$/);
  const pdf = await page.request.get((await link.getAttribute("href")) ?? "");
  expect(pdf.headers()["content-type"]).toBe("application/pdf");
  await page.getByRole("button", { name: "Prepare pack reports" }).click();
  await expect(page.getByRole("link", { name: "Open pack reports" })).toBeVisible();
});

test("tables, the journal and the calendar are saved as files", async ({ page }) => {
  await loadDemo(page);
  await page.goto("/board");
  for (const [button, name, holds] of [
    ["All tests", /\.csv$/, /pack/i],
    ["Packs", /\.csv$/, /Ah/],
    ["Charges", /\.csv$/, /,/],
    ["Repairs", /\.csv$/, /,/],
    ["Calendar file of all packs", /\.ics$/, /BEGIN:VCALENDAR/],
    ["Whole journal, one entry a line", /\.jsonl$/, /"pack-added"/],
  ] as const) {
    const waiting = page.waitForEvent("download");
    await page.getByRole("button", { name: button, exact: true }).click();
    const file = await waiting;
    expect(file.suggestedFilename()).toMatch(name);
    expect(readFileSync(await file.path(), "utf8")).toMatch(holds);
  }
});

test("an empty fleet and a single pack have a board too", async ({ page }) => {
  await open(page, "/board");
  await expect(page.getByText("There is no pack yet.")).toBeVisible();
  await expect(lamp(page)).toBeVisible();
});
