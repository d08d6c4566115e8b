// The main job from end to end: a pack is added, its label printed, seen by a
// camera, tested with no server in reach, and found on the server afterwards.

import { addPack, changeTeam, expectReady, guidedReading, lamp, open, startGuided } from "./support/app";
import { asVideo, rasterise, withCamera } from "./support/camera";
import { packwright } from "./support/server";
import { expect, type Page, test, watch } from "./support/test";

/** What somebody reads off the meter: typed with a comma and with a point. */
const readings = [
  { open: "12,84", loaded: "12,71" },
  { open: "12.83", loaded: "12.70" },
];

test("label, scan, guided test with no network, decision, sync", async ({ page, server, playwright, faults }) => {
  await open(page);
  await changeTeam(page, { read_after_s: "1", repeats: "2", tolerance_pct: "1" });
  const code = await addPack(page, { name: "Blue 3" });
  await expect(lamp(page)).toHaveText("All sent");

  const label = await printLabel(page, code);
  const camera = await withCamera(playwright.chromium, asVideo(rasterise(label, 203))); // dots per inch of common label printers
  try {
    const context = await camera.browser.newContext({ baseURL: server.origin, permissions: ["camera"] });
    watch(context, faults);
    const phone = await context.newPage();
    await open(phone);
    await expect(phone.getByRole("link", { name: /Blue 3/ })).toBeVisible();

    await server.stop();
    await phone.getByRole("link", { name: "Scan", exact: true }).click();
    await expect(phone).toHaveURL(`/p/${code}`);
    await expect(phone.getByRole("heading", { level: 1 })).toHaveText(`Blue 3 ${code}`);

    await startGuided(phone, code);
    await guidedReading(phone, readings[0]!.open, readings[0]!.loaded);
    await phone.getByRole("button", { name: "Next reading" }).click();
    await guidedReading(phone, readings[1]!.open, readings[1]!.loaded);
    await phone.getByRole("button", { name: "See the result" }).click();
    await expectResult(phone, await otherDoor());

    await phone.getByRole("button", { name: "Save test" }).click();
    await expect(phone.getByText("Test saved on this device")).toBeVisible();
    await expect(lamp(phone)).toHaveText("1 unsent");
    await expectResult(phone, await otherDoor());
    const entry = new URL(phone.url()).pathname.split("/").at(-1);

    await server.start();
    await lamp(phone).click();
    await phone.getByRole("button", { name: "Sync now" }).click();
    await expect(lamp(phone)).toHaveText("All sent");

    const stored = (await server.entries()).filter((found) => found.kind === "load-test");
    expect(stored.map(({ id, pack }) => ({ id, pack }))).toEqual([{ id: entry, pack: code }]);
    expect(stored[0]?.body).toEqual({
      method: "known-load",
      open_v: [12.84, 12.83],
      loaded_v: [12.71, 12.7],
      load_ohm: 10,
      load_tolerance_pct: 1,
      meter: { reading_pct: 0.5, counts: 2, resolution_v: 0.01 },
      read_after_s: 1,
    });

    // the first phone hears of it by itself
    await page.goto(`/p/${code}`);
    await expectReady(page);
    await expectResult(page, await otherDoor());
  } finally {
    await camera.close();
  }
});

test("a camera that is not allowed: how to allow it, and the typed code meanwhile", async ({ page, server, playwright }) => {
  await open(page);
  const code = await addPack(page, { name: "Blue 4" });
  await expect(lamp(page)).toHaveText("All sent");
  const camera = await withCamera(playwright.chromium);
  try {
    const phone = await (await camera.browser.newContext({ baseURL: server.origin })).newPage();
    await open(phone, "/scan");
    await phone.getByRole("button", { name: "Start camera" }).click();
    await expect(phone.getByText("No camera: it is not allowed here")).toBeVisible();
    await expect(phone.getByText(/set Camera to Allow/)).toBeVisible();
    await phone.getByLabel("Or type the code on the label").fill(code.toLowerCase());
    await phone.getByRole("button", { name: "Open pack" }).click();
    await expect(phone).toHaveURL(`/p/${code}`);
  } finally {
    await camera.close();
  }
});

/** printLabel opens the label's PDF from the app and gives the file that the server drew. */
async function printLabel(page: Page, code: string): Promise<Buffer> {
  await page.goto(`/p/${code}/label`);
  await page.getByRole("button", { name: "Prepare label as PDF" }).click();
  const href = await page.getByRole("link", { name: "Open label as PDF" }).getAttribute("href");
  const answer = await page.request.get(`${href}&size=roll-62x29`);
  expect(answer.headers()["content-type"]).toBe("application/pdf");
  return answer.body();
}

interface Expected {
  shown: string;
  outcome: string;
}

/**
 * otherDoor is the same test by the command line, checked against the hand
 * calculation R = R_L·(V0/V1 − 1) with the means of the readings.
 */
async function otherDoor(): Promise<Expected> {
  const answer = JSON.parse(
    await packwright(
      ...["resistance", "--open", "12.84,12.83", "--loaded", "12.71,12.70"],
      ...["--load", "10", "--load-tolerance", "1", "--meter", "0.5%+2", "--resolution", "0.01"],
      ...["--read-after", "1", "--fuse", "20", "--cells", "10", "--json"],
    ),
  ) as { resistance_ohm: number; expanded_uncertainty_ohm: number; outcome: string };
  const byHand = 10 * ((12.84 + 12.83) / 2 / ((12.71 + 12.7) / 2) - 1);
  expect(byHand).toBeCloseTo(0.10232, 5);
  expect(answer.resistance_ohm).toBeCloseTo(byHand, 6);
  // two significant digits of the uncertainty, the value to the same place (GUM 7.2.6)
  const digits = 1 - Math.floor(Math.log10(answer.expanded_uncertainty_ohm));
  const [value, spread] = [answer.resistance_ohm, answer.expanded_uncertainty_ohm].map((ohm) => ohm.toFixed(digits));
  const words: Record<string, string> = { competition: "Competition", practice: "Practice", retest: "Retest", "set-aside": "Set aside" };
  return { shown: `${value} Ω ± ${spread} Ω`, outcome: words[answer.outcome] ?? answer.outcome };
}

async function expectResult(page: Page, { shown, outcome }: Expected): Promise<void> {
  const result = page.getByRole("region", { name: "Result" });
  await expect(result.locator(".figure")).toHaveText(shown);
  await expect(result.locator(".outcome")).toHaveText(outcome);
}
