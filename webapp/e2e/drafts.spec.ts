// Half-filled forms survive a reload, a killed tab and a phone that slept.

import { addPack, changeTeam, crash, expectReady, field, fillAll, guidedReading, hurry, open, startGuided } from "./support/app";
import { draftOf } from "./support/journal";
import { expect, type Page, test } from "./support/test";

/** saved waits until what was typed has reached the phone's storage. */
async function saved(page: Page, key: string, text: string): Promise<void> {
  await expect.poll(async () => JSON.stringify(await draftOf(page, key))).toContain(text);
}

test("a guided test goes on where it was after a reload and after a killed tab", async ({ page, context, server }) => {
  await page.clock.install();
  await open(page);
  await changeTeam(page, { read_after_s: "1", repeats: "2" });
  const code = await addPack(page, { name: "Grey 1" });
  await server.stop();
  await startGuided(page, code);
  await guidedReading(page, "12,84", "12.71", hurry);
  await page.getByRole("button", { name: "Next reading" }).click();
  await page.getByLabel("Meter shows, load off").fill("12,8");
  await saved(page, `test:${code}`, '"openText":"12,8"');
  await page.reload();
  await expect(page.getByText("You left this half filled.")).toBeVisible();
  await expect(page.getByLabel("Meter shows, load off")).toHaveValue("12,8");

  await page.getByLabel("Meter shows, load off").fill("12,83");
  await saved(page, `test:${code}`, '"openText":"12,83"');
  await crash(page);
  const again = await context.newPage();
  await again.clock.install();
  await again.goto("/");
  await again.getByRole("link", { name: /Grey 1/ }).click();
  await again.getByRole("link", { name: "Start test" }).click();
  await expect(again.getByText("Reading 2 of 2.")).toBeVisible();
  await expect(again.getByLabel("Meter shows, load off")).toHaveValue("12,83");
  await guidedReading(again, "12,83", "12,70", hurry);
  const typed = again.getByRole("table", { name: "As typed" });
  await expect(typed.getByRole("row").nth(1)).toContainText("12,84 V");
  await expect(typed.getByRole("row").nth(2)).toContainText("12,70 V");
});

test("reloaded with the load on, the clock goes on; a slept-over reading is not taken", async ({ page }) => {
  await page.clock.install(); // runs as usual until it is put forward
  await open(page);
  await changeTeam(page, { read_after_s: "6", repeats: "1" });
  const code = await addPack(page, { name: "Grey 2" });
  await startGuided(page, code);
  await field(page, "open_v").fill("12.84");
  await page.getByRole("button", { name: "Next: connect the load" }).click();
  await page.getByRole("button", { name: "Start the clock" }).click();
  await expect(page.getByRole("heading", { name: "Connect now" })).toBeVisible();
  await page.reload();
  await expect(page.getByText(/^On load for \d s/)).toBeVisible();
  await expect(page.getByRole("heading", { name: "Read now" })).toBeVisible();
  await page.getByRole("button", { name: "Load is off" }).click();
  await expect(page.getByRole("heading", { name: "Voltage on load" })).toBeVisible();

  // once more, with the phone asleep over the reading second
  await page.getByRole("button", { name: "I missed it: do this one again" }).click();
  await page.getByRole("button", { name: "Start the clock" }).click();
  await expect(page.getByRole("heading", { name: "Connect now" })).toBeVisible();
  await page.clock.fastForward(8000); // a page that slept: what was due meanwhile comes late
  await expect(page.getByRole("heading", { name: "Too late: take the load off" })).toBeVisible();
  await page.getByRole("button", { name: "Load is off" }).click();
  await expect(page.getByText("This device slept past the reading second.")).toBeVisible();
});

test("each other form keeps what was typed over a killed tab", async ({ page, context }) => {
  await open(page);
  const code = await addPack(page, { name: "Grey 3" });
  const forms: { path: string; key: string; texts: Record<string, string> }[] = [
    { path: "/add", key: "add", texts: { name: "Grey 4", capacity_ah: "3,3" } },
    { path: `/p/${code}/edit`, key: `edit:${code}`, texts: { name: "Grey 3b", fuse_a: "25" } },
    { path: `/p/${code}/quick`, key: `quick:${code}`, texts: { "open_v.0": "12,84", note: "half" } },
    { path: `/p/${code}/finding`, key: `finding:${code}`, texts: { text: "bulge on" } },
    { path: `/p/${code}`, key: `note:${code}`, texts: { note: "the lead is" } },
    { path: "/setup/team", key: "team", texts: { ohm: "2,5", base_url: "https://pit" } },
  ];
  for (const { path, key, texts } of forms) {
    const typing = await context.newPage();
    await typing.goto(path);
    await fillAll(typing, texts);
    await saved(typing, key, Object.values(texts).at(-1) ?? "");
    await crash(typing);
    const again = await context.newPage();
    await again.goto(path);
    for (const [name, text] of Object.entries(texts)) await expect(field(again, name)).toHaveValue(text);
    await again.close();
  }
  // what is dropped stays dropped
  await page.goto(`/p/${code}/edit`);
  await page.getByRole("button", { name: "Start afresh" }).click();
  await expect(field(page, "name")).toHaveValue("Grey 3");
  await page.reload();
  await expectReady(page);
  await expect(field(page, "name")).toHaveValue("Grey 3");
});
