// What is printed: every PDF opens from the screen that offers it and says what was chosen.

import { execFileSync } from "node:child_process";
import { writeFileSync } from "node:fs";
import { addPack, changeTeam, field, fillAll, lamp, open } from "./support/app";
import { expect, type Page, test } from "./support/test";

/** openPDF prepares a paper, follows its link as a tap does, and gives the text of what comes. */
async function openPDF(page: Page, what: string): Promise<string> {
  await page.getByRole("button", { name: `Prepare ${what}` }).click();
  const link = page.getByRole("link", { name: `Open ${what}` });
  const href = (await link.getAttribute("href")) ?? "";
  const opening = page.context().waitForEvent("response", (response) => response.url().endsWith(href));
  await link.click();
  const answer = await opening;
  expect(answer.status()).toBe(200);
  expect(answer.headers()["content-type"]).toBe("application/pdf");
  await Promise.all(page.context().pages().filter((other) => other !== page).map((other) => other.close()));
  const again = await page.request.get(href); // the browser keeps the bytes for its viewer
  return execFileSync("pdftotext", ["-layout", "-", "-"], { input: await again.body() }).toString();
}

/** printed is a code as labels show it: in two groups, easier to read aloud. */
const printed = (code: string) => `${code.slice(0, 3)} ${code.slice(3)}`;

test("labels, checklist and test sheet open from Paper", async ({ page }) => {
  await open(page);
  const [one, two] = [await addPack(page, { name: "Rot 1" }), await addPack(page, { name: "Grün 2" })];
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto("/paper");

  const both = await openPDF(page, "labels for 2 packs");
  for (const words of [printed(one), printed(two), "Rot 1", "Grün 2"]) expect(both).toContain(words);
  await page.getByRole("checkbox", { name: /Rot 1/ }).uncheck();
  await fillAll(page, { start: "3", copies: "2" });
  await field(page, "size").selectOption("a4-3x7");
  await page.getByText("Check page with a 100 mm ruler").click();
  const some = await openPDF(page, "labels for 1 pack");
  expect(some).not.toContain(printed(one));
  expect(some.split(printed(two))).toHaveLength(3); // two copies
  expect(some).toContain("100 mm");

  await page.getByLabel("Event").fill("Autumn scrimmage");
  await fillAll(page, { matches: "4" });
  const checklist = await openPDF(page, "checklist");
  for (const words of ["Autumn scrimmage", "Rot 1", "Grün 2"]) expect(checklist).toContain(words);
  expect(await openPDF(page, "test sheet")).toMatch(/eye protection/i);
});

test("the label of one pack opens from the pack, with the team's address as the server holds it", async ({ page }, info) => {
  await open(page);
  await changeTeam(page, { base_url: "https://pit.local" });
  const code = await addPack(page, { name: "Rot 3" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.getByRole("link", { name: "Show label" }).click();
  await expect(page.locator(".big-code")).toHaveText(code);
  await expect(page.getByRole("img")).toHaveAccessibleName(new RegExp(`HTTPS://PIT\\.LOCAL/P/${code}`));
  expect(await openPDF(page, "label as PDF")).toContain(printed(code));
  const href = (await page.getByRole("link", { name: "Open label as PDF" }).getAttribute("href")) ?? "";
  expect(new URL(href, "http://x").searchParams.get("base-url")).toBeNull(); // the phone does not say what is printed
  const picture = execFileSync("pdftoppm", ["-r", "200", "-png", "-singlefile", "-"], { input: await (await page.request.get(href)).body() });
  writeFileSync(info.outputPath("label.png"), picture);
  const read = execFileSync("zbarimg", ["-q", "--raw", info.outputPath("label.png")]).toString(); // a decoder from outside
  expect(read.trim()).toBe(`HTTPS://PIT.LOCAL/P/${code}`);
});

test("the report of one pack opens from its health, on a page of its own", async ({ page, server }) => {
  await open(page);
  const [one] = [await addPack(page, { name: "Rot 8" }), await addPack(page, { name: "Rot 9" })];
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto(`/p/${one}/health`);
  const report = await openPDF(page, "report of this pack (PDF)");
  for (const words of [printed(one), "Rot 8"]) expect(report).toContain(words);
  expect(report).not.toContain("Rot 9");
  await server.stop();
  await page.reload();
  await expect(page.getByText("The server draws it and cannot be reached")).toBeVisible();
  await page.getByRole("button", { name: "Prepare report of this pack (PDF)" }).click();
  await expect(page.getByRole("alert").filter({ hasText: "the server cannot be reached" })).toBeVisible();
});

test("without the server Paper says so", async ({ page, server }) => {
  await open(page);
  await addPack(page, { name: "Rot 4" });
  await expect(lamp(page)).toHaveText("All sent");
  await server.stop();
  await page.goto("/paper");
  await expect(page.getByText("The server cannot be reached.")).toBeVisible();
});

test("the event's name on Paper: any length is kept and complained about, and what cannot be printed is told", async ({ page }) => {
  await open(page);
  await addPack(page, { name: "Rot 6" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto("/paper");
  const prepare = page.getByRole("button", { name: "Prepare checklist" });
  const title = page.getByLabel("Event");
  const long = "Autumn scrimmage in the old hall ".repeat(7).slice(0, 200);
  await title.fill(long);
  await expect(title, "what is pasted is not cut").toHaveValue(long);
  await prepare.click();
  await expect(title).toHaveAttribute("aria-invalid", "true");
  await expect(title).toHaveAccessibleDescription(/there are 200 characters, and 60 are allowed/i);
  await expect(title).toBeFocused();
  await expect(title).toHaveValue(long);
  await expect(page.getByRole("link", { name: /^Open/ })).toHaveCount(0);

  await title.fill(long.slice(0, 60));
  await expect(title).not.toHaveAttribute("aria-invalid", "true");
  expect(await openPDF(page, "checklist")).toContain(long.slice(0, 60));

  await title.fill("Herbst 🔋 “Ørsted”");
  await prepare.click();
  await expect(page.getByText(/has characters that cannot be printed: U\+1F50B/)).toBeVisible();
  await expect(title).toHaveValue("Herbst 🔋 “Ørsted”");
  await expect(page.getByRole("link", { name: "Open checklist" })).toBeVisible();
});

test("the event's date on Paper: a year of two digits is said beside the field", async ({ page }) => {
  await open(page);
  await addPack(page, { name: "Rot 7" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto("/paper");
  const date = page.getByLabel("Date");
  for (const typed of ["0026-11-25", "9999-12-31", "275760-09-13"]) {
    await date.fill(typed);
    await page.getByRole("button", { name: "Prepare checklist" }).click();
    await expect(date, typed).toHaveAttribute("aria-invalid", "true");
    await expect(date, typed).toHaveAccessibleDescription(/cannot be right/);
    await expect(date).toHaveValue(typed);
    await expect(page.getByRole("link", { name: /^Open/ })).toHaveCount(0);
  }
  await date.fill("2026-11-28");
  expect(await openPDF(page, "checklist")).toContain("2026-11-28");
});

for (const name of ["start", "copies", "matches", "chargers"]) {
  test(`Paper with nonsense for ${name}: said beside the field, and nothing is opened`, async ({ page }) => {
    await open(page);
    await addPack(page, { name: "Rot 5" });
    await expect(lamp(page)).toHaveText("All sent");
    await page.goto("/paper");
    const prepare = page.getByRole("button", { name: name === "start" || name === "copies" ? /^Prepare labels/ : "Prepare checklist" });
    await field(page, name).fill("abc");
    await prepare.click();
    await expect(field(page, name)).toHaveAttribute("aria-invalid", "true");
    await expect(page.getByRole("link", { name: /^Open/ })).toHaveCount(0);
    await field(page, name).fill("2");
    await prepare.click();
    await expect(page.getByRole("link", { name: /^Open/ })).toBeVisible();
  });
}
