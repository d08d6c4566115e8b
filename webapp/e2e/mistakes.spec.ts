// Mistakes are voided, never deleted, and voiding can be taken back.

import { addNote, addPack, expectReady, lamp, open, quickTest } from "./support/app";
import { expect, test } from "./support/test";

test("a mistaken test: voided, undone, voided again, brought back later", async ({ page, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Black 1" });
  const good = await quickTest(page, code, "12.90", "12.85");
  await page.goto(`/p/${code}`);
  const outcome = page.getByRole("region", { name: "Result" }).locator(".outcome");
  const before = (await outcome.textContent()) ?? "";
  const mistaken = await quickTest(page, code, "12.9", "11.9"); // a tenth of a turn too far on the meter's knob
  await page.goto(`/p/${code}`);
  await expect(outcome).not.toHaveText(before);

  const voidIt = page.getByRole("button", { name: "Void this test as mistaken" });
  await page.goto(`/p/${code}/test/${mistaken}`);
  await voidIt.click();
  await expect(page.getByText("Voided: it does not count.")).toBeVisible();
  await page.getByRole("button", { name: "Undo" }).click();
  await expect(page.getByText("Taken back")).toBeVisible();
  await expect(page.getByText("Voided: it does not count.")).toBeHidden();

  await voidIt.click();
  await expect(page.getByText("Voided: it does not count.")).toBeVisible();
  await page.goto(`/p/${code}`);
  await expect(outcome).toHaveText(before);
  const line = page.locator(`a[href="/p/${code}/test/${mistaken}"]`);
  await expect(line).toContainText("Voided");

  await line.click();
  await page.getByRole("button", { name: "Bring back" }).click();
  await expect(page.getByText("Voided: it does not count.")).toBeHidden();
  await page.goto(`/p/${code}`);
  await expect(outcome).not.toHaveText(before);
  await expect(lamp(page)).toHaveText("All sent");

  const stored = await server.entries();
  expect(stored.map((entry) => entry.kind)).toEqual(["pack-added", "load-test", "load-test", "voided", "voided", "voided", "voided"]);
  const [undone, , again] = stored.filter((entry) => entry.kind === "voided").map((entry) => entry);
  expect(stored.filter((entry) => entry.kind === "voided").map((entry) => entry.body.entry)).toEqual([
    mistaken,
    undone?.id,
    mistaken,
    again?.id,
  ]);
  expect(stored.map((entry) => entry.id)).toContain(good);
});

test("a safety finding sets the pack aside until it is closed, and closing can be undone", async ({ page, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Black 2" });
  await quickTest(page, code, "12.90", "12.85");
  await page.goto(`/p/${code}/finding`);
  await page.getByRole("radio", { name: "Melted connector" }).check();
  await page.getByRole("button", { name: "Save finding" }).click();
  const outcome = page.getByRole("region", { name: "Result" }).locator(".outcome");
  await expect(outcome).toHaveText("Set aside");
  await page.goto(`/p/${code}/test`);
  await expect(page.getByText(/Do not connect this pack/)).toBeVisible();
  await expect(page.getByRole("button", { name: "Yes, go on" })).toBeHidden();

  await page.goto(`/p/${code}`);
  await page.getByText("Close: it is dealt with").click();
  await page.getByLabel("What was done").fill("connector replaced");
  await page.getByRole("button", { name: "Close finding" }).click();
  await expect(outcome).not.toHaveText("Set aside");
  await page.getByRole("button", { name: "Undo" }).click();
  await expect(outcome).toHaveText("Set aside");
  await expect(lamp(page)).toHaveText("All sent");
  expect((await server.entries()).map((entry) => entry.kind)).toEqual(["pack-added", "load-test", "inspection", "finding-closed", "voided"]);
});

test("a note voided stays readable", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Black 3" });
  await addNote(page, code, "wrong pack");
  await page.getByRole("button", { name: /^Void as mistaken/ }).click();
  const note = page.getByRole("listitem").filter({ hasText: "wrong pack" });
  await expect(note).toContainText("voided");
  await page.reload();
  await expectReady(page);
  await expect(note).toContainText("voided");
  await note.getByRole("button", { name: /^Bring back/ }).click();
  await expect(note).not.toContainText("voided");
});
