// The guided wiggle test: cautions first, the load on for a few seconds at each
// place, what the meter showed, and what it means.

import { addPack, changeTeam, expectReady, field, fillAll, open } from "./support/app";
import { draftOf, phoneEntries } from "./support/journal";
import { expect, type Page, test } from "./support/test";

/** toFirstPlace goes through the set-up check, the cautions and the open-circuit voltage. */
async function toFirstPlace(page: Page, code: string, volts = "12.84"): Promise<void> {
  await page.goto(`/p/${code}/wiggle`);
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("Wiggle test");
  await page.getByRole("button", { name: "Yes, go on" }).click();
  await expect(page.getByRole("heading", { name: "Before you connect" })).toBeVisible();
  await page.getByRole("button", { name: "I have read this" }).click();
  await field(page, "open_v").fill(volts);
  await page.getByRole("button", { name: "Next: the first place" }).click();
}

/** place is one place with the clock run fast, up to the two fields. */
async function place(page: Page, heading: string): Promise<void> {
  await expect(page.getByRole("heading", { level: 1 })).toHaveText(heading);
  await page.clock.runFor(90_000); // the rest
  await page.getByRole("button", { name: "Start the clock" }).click();
  await page.clock.runFor(4_100);
  await expect(page.getByRole("heading", { level: 1 })).toHaveText(/^Load on/);
  await page.clock.runFor(8_000);
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("Take the load off now");
  await page.getByRole("button", { name: "Load is off" }).click();
}

async function keep(page: Page, low: string, high: string): Promise<void> {
  await fillAll(page, { low_v: low, high_v: high });
  await page.getByRole("button", { name: "Keep both" }).click();
}

test("place by place to a suspect, through a reload", async ({ page }) => {
  await page.clock.install();
  await open(page);
  const code = await addPack(page, { name: "Lime 4" });
  await toFirstPlace(page, code);
  await place(page, "Nothing moved");
  await keep(page, "12.70", "12.71");
  await expect(page.getByText(/Let the pack recover/)).toBeVisible();
  await expect(page.getByRole("button", { name: "Resting …" })).toHaveAttribute("aria-disabled", "true");
  await place(page, "The connector");
  await keep(page, "12.71", "12.70");
  await expect(field(page, "high_v")).toHaveAccessibleDescription(/the highest is below the lowest/i);
  await keep(page, "12.70", "12.71");
  await place(page, "The lead behind the connector");
  await fillAll(page, { low_v: "12.31", high_v: "12.7" });
  await expect.poll(async () => ((await draftOf(page, `wiggle:${code}`)) as { high?: string } | null)?.high).toBe("12.7");
  await page.reload();
  await expectReady(page);
  await expect(field(page, "low_v")).toHaveValue("12.31");
  await page.getByRole("button", { name: "Keep both" }).click();
  for (const skipped of ["The middle of the lead", "The fuse", "The lead at the pack"]) {
    await expect(page.getByRole("heading", { level: 1 })).toHaveText(skipped);
    await page.getByRole("button", { name: "Skip this place" }).click();
  }
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("Result of the wiggle test");
  const places = page.getByRole("region", { name: "Place by place" });
  await expect(places.getByRole("listitem").filter({ hasText: "The lead behind the connector" })).toContainText("suspect");
  await expect(places.getByRole("listitem").filter({ hasText: /^The connector/ })).not.toContainText("suspect");
  // 0.38 V more than the still lead's 0.01 V, at 12.7 V / 10 Ω: some 0.3 Ω
  await expect(places).toContainText(/3[78]0 mV ± \d+ mV/);

  await places.getByRole("button", { name: "Do this one The fuse" }).click();
  await place(page, "The fuse");
  await keep(page, "12,69", "12,71");
  await expect(places.getByRole("listitem").filter({ hasText: "The fuse" })).toContainText(/12\.69\sV to 12\.71\sV/);
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("Result of the wiggle test");
  await page.getByRole("button", { name: "Save wiggle test" }).click();
  await expect(page).toHaveURL(`/p/${code}/health`);
  const made = (await phoneEntries(page)).find((entry) => entry.kind === "wiggle");
  expect(made?.body).toEqual({
    load_ohm: 10,
    meter: { reading_pct: 0.5, counts: 2, resolution_v: 0.01 },
    spots: [
      { place: "still", low_v: 12.7, high_v: 12.71 },
      { place: "connector", low_v: 12.7, high_v: 12.71 },
      { place: "lead-at-connector", low_v: 12.31, high_v: 12.7 },
      { place: "fuse", low_v: 12.69, high_v: 12.71 },
    ],
  });
  await expect(page.getByText("Wiggle tests: 1")).toBeVisible();
});

test("a load that would not stand it is not connected, nor is a pack that is set aside or empty", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Lime 5" });
  await toFirstPlace(page, code, "2");
  await expect(field(page, "open_v")).toHaveAttribute("aria-invalid", "true");
  await page.goto(`/p/${code}/finding`);
  await page.getByRole("radio", { name: "Swollen" }).check();
  await page.getByRole("button", { name: "Save finding" }).click();
  await expect(page).toHaveURL(`/p/${code}`);
  await page.goto(`/p/${code}/wiggle`);
  await expect(page.getByText("Do not connect this pack: swollen.")).toBeVisible();
  await expect(page.getByRole("link", { name: "Back to the pack" })).toBeVisible();

  await changeTeam(page, { ohm: "0.5", rating_w: "5" });
  const other = await addPack(page, { name: "Lime 6" });
  await page.goto(`/p/${other}/wiggle`);
  await expect(page.getByText("Do not connect this.")).toBeVisible();
  await expect(page.getByRole("button", { name: "Yes, go on" })).toBeHidden();
});
