// Things that go wrong on the phone or between phone and server: each is shown,
// nothing is called saved or sent that is not, and nothing is lost.

import { readFile } from "node:fs/promises";
import { addNote, addPack, expectReady, field, fillAll, lamp, open, quickTest } from "./support/app";
import { inspect } from "./support/inspect";
import { leaveUnsent, notes, outboxSize, phoneEntries } from "./support/journal";
import type { Entry } from "./support/server";
import { expect, type Page, test } from "./support/test";

/** download presses a button and reads the journal file that the app saves. */
async function download(page: Page, button: string): Promise<Entry[]> {
  const arriving = page.waitForEvent("download");
  await page.getByRole("button", { name: button }).click();
  const file = await arriving;
  expect(file.suggestedFilename()).toMatch(/^packwright-journal-\d{4}-\d\d-\d\d\.jsonl$/);
  const text = await readFile(await file.path(), "utf8");
  expect(text.endsWith("\n")).toBe(true);
  return text.trimEnd().split("\n").map((line) => JSON.parse(line) as Entry);
}

const ids = (entries: Entry[]) => entries.map((entry) => entry.id).toSorted();

/** The phone's storage fails in one of the ways that browsers have. It reads window.fault, so that a test can let it recover. */
function breakStorage(page: Page, fault: "quota" | "abort" | "lost"): Promise<void> {
  return page.evaluate((fault) => {
    const state = globalThis as unknown as { fault: string };
    state.fault = fault;
    const transaction = IDBDatabase.prototype.transaction;
    IDBDatabase.prototype.transaction = function (...given: Parameters<typeof transaction>) {
      const [stores, mode] = given;
      if (!state.fault || mode !== "readwrite" || ![stores].flat().includes("entries")) return transaction.apply(this, given);
      if (state.fault === "lost") throw new DOMException("Connection to Indexed Database server lost. Refresh the page to try again", "UnknownError");
      const tx = transaction.apply(this, given);
      const commit = tx.commit;
      tx.commit = () => (state.fault ? tx.abort() : commit.apply(tx));
      if (state.fault === "quota") Object.defineProperty(tx, "error", { get: () => new DOMException("full", "QuotaExceededError") });
      return tx;
    };
  }, fault);
}

const repair = (page: Page) => page.evaluate(() => void ((globalThis as unknown as { fault: string }).fault = ""));

for (const fault of ["quota", "abort", "lost"] as const) {
  test(`a failed save (${fault}) is shown, not called saved, and works once the fault is gone`, async ({ page, server }) => {
    await open(page);
    const code = await addPack(page, { name: "Grey 5" });
    await expect(lamp(page)).toHaveText("All sent");
    await page.goto(`/p/${code}/quick`);
    await fillAll(page, { "open_v.0": "12.84", "loaded_v.0": "12.71" });
    await breakStorage(page, fault);
    await page.getByRole("button", { name: "Save test" }).click();
    const alert = page.getByRole("alert").filter({ hasText: /not saved/i });
    await expect(alert.first()).toBeVisible();
    if (fault === "quota") {
      await expect(page.getByText(/no room left on this device/).first()).toBeVisible();
      await inspect(page, "the failed save");
    }
    await expect(page.getByText("Test saved on this device")).toBeHidden();
    expect(new URL(page.url()).pathname).toBe(`/p/${code}/quick`);
    await expect(field(page, "open_v.0")).toHaveValue("12.84");
    expect((await phoneEntries(page)).map((entry) => entry.kind)).toEqual(["pack-added"]);
    expect(ids(await download(page, "Save journal as file"))).toEqual(ids(await phoneEntries(page)));

    await repair(page);
    await page.getByRole("button", { name: "Save test" }).click();
    await expect(page.getByText("Test saved on this device")).toBeVisible();
    await expect(alert).toBeHidden();
    await expect(lamp(page)).toHaveText("All sent");
    expect((await server.entries()).map((entry) => entry.kind)).toEqual(["pack-added", "load-test"]);
  });
}

test("a journal that cannot be opened is said, not shown as an empty fleet", async ({ page }) => {
  await open(page);
  await addPack(page, { name: "Grey 6" });
  await page.addInitScript(() => {
    IDBFactory.prototype.open = () => {
      throw new DOMException("not in this mode", "SecurityError");
    };
  });
  await page.goto("/");
  await expect(page.getByText("The journal on this device could not be opened.")).toBeVisible();
  await expect(page.getByRole("link", { name: "Add the first pack" })).toBeHidden();
});

test("the phone's journal as a file holds every entry, unsent ones among them", async ({ page, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Grey 7 “ü”" });
  await expect(lamp(page)).toHaveText("All sent");
  await server.stop();
  await quickTest(page, code, "12.84", "12.71");
  await page.goto("/setup");
  const exported = await download(page, "Save this device's journal as a file");
  expect(exported.toSorted((a, b) => (a.id < b.id ? -1 : 1))).toEqual(await phoneEntries(page));
  expect(exported.map((entry) => entry.kind).toSorted()).toEqual(["load-test", "pack-added"]);
});

test("refused entries stay in sight with the reason, the others are sent", async ({ page, server }) => {
  await open(page);
  await server.stop();
  const made = notes(9);
  for (const at of [0, 4, 8]) made[at]!.body = { text: 42 }; // head, middle and tail are no notes
  await leaveUnsent(page, made);
  await page.reload();
  await expect(lamp(page)).toHaveText("9 unsent");
  await server.start();
  await expect(lamp(page)).toHaveText("3 refused");
  expect(ids(await server.entries())).toEqual(ids(made.filter((_, at) => ![0, 4, 8].includes(at))));

  await lamp(page).click();
  const refused = page.getByRole("region", { name: "Refused by the server" });
  for (const at of [0, 4, 8]) {
    const row = refused.getByRole("listitem").filter({ hasText: made[at]!.id });
    await expect(row.locator("strong")).toHaveText(/\w{4}/); // the server's reason
  }
  await page.reload();
  await expect(lamp(page)).toHaveText("3 refused");
  await expect(refused.getByRole("listitem")).toHaveCount(3);
  expect(ids(await download(page, "Save as file"))).toEqual(ids(made));
  expect(await outboxSize(page)).toBe(3);
});

test("a hall's sign-in page is not taken for the server", async ({ page, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Grey 8" });
  await expect(lamp(page)).toHaveText("All sent");
  const asked: string[] = [];
  await server.standIn((request, answer) => {
    asked.push(`${request.method} ${request.url}`);
    answer.writeHead(200, { "Content-Type": "text/html" }).end("<html><title>Welcome to the hall</title>Please sign in.</html>");
  });
  await addNote(page, code, "written behind a sign-in page");
  await page.goto("/unsent");
  await page.getByRole("button", { name: "Sync now" }).click();
  await expect(page.getByText(/something else answered in place of the server/i)).toBeVisible();
  await expect(page.getByText("1 entry not yet on the server.")).toBeVisible();
  expect(await outboxSize(page)).toBe(1);
  expect(asked).toContain("GET /api/v1/health");

  await server.start();
  await page.getByRole("button", { name: "Sync now" }).click();
  await expect(lamp(page)).toHaveText("All sent");
  expect((await server.entries()).map((entry) => entry.kind)).toEqual(["pack-added", "note"]);
});

test("a page of the hall in place of every answer, health aside, confirms nothing", async ({ page, server }) => {
  await open(page);
  await addPack(page, { name: "Grey 9" });
  await expect(lamp(page)).toHaveText("All sent");
  const health = JSON.stringify({ ok: true, epoch: "x", head: 0, now_ms: Date.now(), api: 1, min_client: 1 });
  await server.standIn((request, answer) => {
    if (request.url?.endsWith("/health")) answer.writeHead(200, { "Content-Type": "application/json" }).end(health);
    else answer.writeHead(200, { "Content-Type": "text/html" }).end("<html>Please sign in.</html>");
  });
  await page.goto("/");
  await field(page, "note").fill("kept");
  await page.getByRole("button", { name: "Save note" }).click();
  await expect(page.getByText("Note saved")).toBeVisible();
  await expect(lamp(page)).toHaveText("Not syncing");
  expect(await outboxSize(page)).toBe(1);
});

test("a server that lost everything gets all back from the phone", async ({ page, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Grey 10" });
  await addNote(page, code, "worth keeping");
  await expect(lamp(page)).toHaveText("All sent");
  const before = await server.entries();
  await server.stop();
  server.forget();
  await server.start();
  await page.goto("/unsent");
  await page.getByRole("button", { name: "Sync now" }).click();
  await expect.poll(async () => ids(await server.entries())).toEqual(ids(before));
  await expect(lamp(page)).toHaveText("All sent");
});

for (const [year, words] of [["1970", /behind the server/], ["2099", /ahead of the server/]] as const) {
  test(`a phone whose clock stands at ${year} saves and syncs, and the skew is shown`, async ({ page, newPhone, server }) => {
    await page.clock.install({ time: new Date(`${year}-01-02T10:00:00Z`) });
    await open(page);
    const code = await addPack(page, { name: "Grey 11" });
    await addNote(page, code, "first");
    await addNote(page, code, "second");
    await expect(lamp(page)).toHaveText("All sent");
    await page.goto("/setup");
    await expectReady(page);
    await expect(page.locator("dl div").filter({ hasText: "Clock of this device" }).locator("dd")).toHaveText(words);
    const stored = await server.entries();
    expect(stored.map((entry) => entry.kind)).toEqual(["pack-added", "note", "note"]);
    expect(stored.map((entry) => entry.hlc)).toEqual(stored.map((entry) => entry.hlc).toSorted()); // causal order on one phone

    // a phone with a right clock can still change what the wrong one wrote
    const right = await newPhone();
    await open(right, `/p/${code}/edit`);
    await fillAll(right, { name: "Grey 11b" });
    await right.getByRole("button", { name: "Save changes" }).click();
    await expect(right.getByRole("heading", { level: 1 })).toHaveText(`Grey 11b ${code}`);
    await expect(lamp(right)).toHaveText("All sent");
    await page.goto(`/p/${code}`);
    await expect(page.getByRole("heading", { level: 1 })).toHaveText(`Grey 11b ${code}`);
  });
}

test("a device without a camera: said, and the typed code does the same", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Grey 12" });
  await page.goto("/scan");
  await page.getByRole("button", { name: "Start camera" }).click();
  await expect(page.getByText("No camera: this device has none that can be used")).toBeVisible();
  await field(page, "code").fill(code.toLowerCase());
  await page.getByRole("button", { name: "Open pack" }).click();
  await expect(page).toHaveURL(`/p/${code}`);
});

test("a good code that no pack has offers to add it", async ({ page, newPhone, server }) => {
  const other = await newPhone(); // where the label was made
  await open(other);
  const code = await addPack(other, { name: "Grey 13" });
  await expect(lamp(other)).toHaveText("All sent");
  await other.close(); // or it sends the pack again
  await server.stop();
  server.forget(); // and never sent
  await server.start();
  await open(page, "/scan");
  await field(page, "code").fill(code);
  await page.getByRole("button", { name: "Open pack" }).click();
  await expect(page.getByText("is a good code, but no pack on this device has it.")).toBeVisible();
  await page.getByRole("link", { name: `Add pack ${code}` }).click();
  await fillAll(page, { name: "Grey 13 too" });
  await page.getByRole("button", { name: "Save pack" }).click();
  await expect(page).toHaveURL(`/p/${code}`);
  await expect(page.getByRole("heading", { level: 1 })).toHaveText(`Grey 13 too ${code}`);
});
