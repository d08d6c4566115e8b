// Several phones and one pack: whatever each did offline, all end up with the
// same, and nothing that somebody entered is gone.

import { addNote, addPack, expectReady, fillAll, lamp, open, quickTest } from "./support/app";
import { inspect } from "./support/inspect";
import { phoneEntries } from "./support/journal";
import type { Entry } from "./support/server";
import { expect, type Page, test } from "./support/test";

const byID = (a: Entry, b: Entry) => (a.id < b.id ? -1 : 1);

async function changeCapacity(page: Page, code: string, capacity_ah: string): Promise<void> {
  await page.goto(`/p/${code}/edit`);
  await fillAll(page, { capacity_ah });
  await page.getByRole("button", { name: "Save changes" }).click();
  await expect(page).toHaveURL(`/p/${code}`);
  await expect(page.getByText("Profile saved")).toBeVisible();
}

/** everythingOn is all that a phone shows of a pack, folded parts too. */
async function everythingOn(page: Page, code: string): Promise<string> {
  await page.goto(`/p/${code}`);
  await expectReady(page);
  await expect(lamp(page)).toHaveText("All sent");
  await expect(page.getByRole("heading", { level: 1 })).toBeVisible();
  await expect(page.getByRole("region", { name: "Health over the season" })).not.toContainText("Working it out"); // comes last
  return (await page.locator("main").textContent()) ?? "";
}

test("two phones, one pack, both offline, then both sync", async ({ newPhone, server }) => {
  const [anna, ben] = [await newPhone(), await newPhone()];
  await open(anna);
  const code = await addPack(anna, { name: "Green 4", capacity_ah: "3" });
  await expect(lamp(anna)).toHaveText("All sent");
  await open(ben);
  await expect(ben.getByRole("link", { name: /Green 4/ })).toBeVisible();

  await anna.context().setOffline(true);
  await ben.context().setOffline(true);
  await changeCapacity(anna, code, "3,2");
  await changeCapacity(ben, code, "2.8"); // later, so this one counts
  await quickTest(anna, code, "12.84", "12.71");
  await quickTest(ben, code, "12.90", "12.80");
  await expect(lamp(anna)).toHaveText("2 unsent");
  await expect(lamp(ben)).toHaveText("2 unsent");

  await ben.context().setOffline(false);
  await expect(lamp(ben)).toHaveText("All sent");
  await anna.context().setOffline(false);
  await expect(lamp(anna)).toHaveText("All sent");
  await expect.poll(async () => (await phoneEntries(ben)).length).toBe(5);

  const stored = await server.entries();
  expect(stored.map((entry) => entry.kind).toSorted()).toEqual([
    "load-test",
    "load-test",
    "pack-added",
    "profile-changed",
    "profile-changed",
  ]);
  for (const phone of [anna, ben]) {
    expect((await phoneEntries(phone)).toSorted(byID)).toEqual(stored.toSorted(byID));
  }
  const shown = await everythingOn(anna, code);
  expect(await everythingOn(ben, code)).toBe(shown);
  const newcomer = await newPhone(); // folds in the server's order
  await open(newcomer);
  expect(await everythingOn(newcomer, code)).toBe(shown);

  await expect(anna.locator("dl div").filter({ hasText: "Capacity" }).locator("dd")).toHaveText("2.8 Ah");
  await anna.getByText("History of the profile").click();
  const overtaken = anna.getByRole("listitem").filter({ hasText: "Capacity, Ah: 3.2" });
  await expect(overtaken).toContainText("overtaken");
  await expect(anna.getByRole("listitem").filter({ hasText: "Capacity, Ah: 2.8" })).not.toContainText("overtaken");
});

/** sharedIDs is Set-up's word on device ids that two phones use; it is loaded anew. */
async function sharedIDs(page: Page) {
  await page.goto("/setup");
  await expectReady(page);
  await expect(page.getByRole("region", { name: "Sync and storage" })).toBeVisible();
  return page.getByText(/^Two devices seem to share one device id/);
}

test("a phone's storage copied to another phone: both work on, nothing collides", async ({ page, newPhone, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Green 5" });
  await expect(lamp(page)).toHaveText("All sent");
  const clone = await newPhone(page.context());
  await open(clone, `/p/${code}`);

  await server.stop();
  await addNote(page, code, "from the phone");
  await addNote(clone, code, "from its copy");
  await addNote(page, code, "from the phone again");
  await server.start();
  await expect(lamp(page)).toHaveText("All sent");
  await expect(lamp(clone)).toHaveText("All sent");

  const written = (await server.entries()).filter((entry) => entry.kind === "note");
  expect(written.map((entry) => entry.body.text).toSorted()).toEqual(["from its copy", "from the phone", "from the phone again"]);
  expect(new Set(written.map((entry) => entry.device)).size, "they are one device to the server").toBe(1);
  await expect.poll(async () => (await phoneEntries(page)).length).toBe(4);
  await expect.poll(async () => (await phoneEntries(clone)).length).toBe(4);
  expect(await everythingOn(clone, code)).toBe(await everythingOn(page, code));
});

test("copies of one phone that write at the same moment: both entries stay, and Set-up tells of them", async ({ page, newPhone, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Green 6" });
  await expect(lamp(page)).toHaveText("All sent");
  const clone = await newPhone(page.context());
  await open(clone, `/p/${code}`);
  await expect(await sharedIDs(clone), "nothing tells the copies apart yet").toHaveCount(0);

  const moment = Date.now() + 60_000; // after all that either holds: then the stamp is the clock's
  await server.stop();
  for (const [phone, text] of [[page, "from the phone"], [clone, "from its copy"]] as const) {
    await phone.clock.setFixedTime(moment);
    await addNote(phone, code, text);
  }
  await server.start();
  await expect(lamp(page)).toHaveText("All sent");
  await expect(lamp(clone)).toHaveText("All sent");

  const written = (await server.entries()).filter((entry) => entry.kind === "note");
  expect(written.map((entry) => entry.body.text).toSorted()).toEqual(["from its copy", "from the phone"]);
  expect(new Set(written.map((entry) => `${entry.device} ${entry.hlc}`)).size, "one device, one stamp").toBe(1);
  expect(new Set(written.map((entry) => entry.id)).size).toBe(2);
  await expect.poll(async () => (await phoneEntries(page)).length).toBe(3);
  await expect.poll(async () => (await phoneEntries(clone)).length).toBe(3);
  const newcomer = await newPhone();
  await open(newcomer, `/p/${code}`);
  expect(await everythingOn(newcomer, code)).toBe(await everythingOn(page, code));
  for (const phone of [page, clone, newcomer]) {
    await expect(await sharedIDs(phone)).toHaveText(`Two devices seem to share one device id: ${written[0]?.device}.`);
  }
  await inspect(newcomer, "the notice of copied phones");
});
