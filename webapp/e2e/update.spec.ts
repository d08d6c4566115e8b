// A new version of the app arrives while a form is half filled.

import { addNote, addPack, expectReady, field, fillAll, lamp, open } from "./support/app";
import { inspect } from "./support/inspect";
import { leaveUnsent, notes, phoneEntries } from "./support/journal";
import { buildNextVersion, type NextVersion } from "./support/nextversion";
import { expect, type Page, test } from "./support/test";

let next: NextVersion;

test.beforeAll(async () => {
  test.setTimeout(300_000); // two Go builds
  next = await buildNextVersion("webapp/src/views/stored.tsx", "Nowhere else", "Nowhere else at all");
});

test.afterAll(() => next?.remove());

test("the update asks first, takes no draft away, and opens old data", async ({ page, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Blue 7" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto(`/p/${code}/edit`);
  await fillAll(page, { name: "Blue 7b", capacity_ah: "3,3" });
  let loads = 0;
  page.on("load", () => loads++);

  await server.stop();
  await server.start(next.program);
  await comeBack(page);
  const prompt = page.getByText("A new version is ready.");
  await expect(prompt).toBeVisible();
  await expect(field(page, "name")).toHaveValue("Blue 7b");
  await inspect(page, "the update");

  // the old version goes on until the user agrees: also with screens it had not loaded yet
  await page.getByRole("button", { name: "Later" }).click();
  await expect(prompt).toBeHidden();
  await page.getByRole("link", { name: "Blue 7", exact: true }).click();
  await lamp(page).click();
  await expect(page.getByRole("heading", { name: "Unsent and refused" })).toBeVisible();
  expect(loads, "nothing reloads by itself").toBe(0);

  // a reload alone is not an agreement either
  await page.goto("/setup/stored");
  await expect(page.getByRole("heading", { name: "Nowhere else", exact: true })).toBeVisible();
  await expect(prompt).toBeVisible();
  await page.goto(`/p/${code}/edit`);
  await expect(field(page, "name")).toHaveValue("Blue 7b");
  await fillAll(page, { fuse_a: "25" }); // typed a moment before
  await reloadNow(page);
  await expect(prompt).toBeHidden();

  await expect(page.getByText("You left this half filled.")).toBeVisible();
  for (const [name, text] of Object.entries({ name: "Blue 7b", capacity_ah: "3,3", fuse_a: "25" })) {
    await expect(field(page, name)).toHaveValue(text);
  }
  await page.getByRole("button", { name: "Save changes" }).click();
  await expect(page.getByText("Profile saved")).toBeVisible();
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto("/setup/stored");
  await expect(page.getByRole("heading", { name: "Nowhere else at all" })).toBeVisible();
  const changed = (await server.entries()).filter((entry) => entry.kind === "profile-changed");
  expect(changed.map((entry) => entry.body)).toEqual([{ name: "Blue 7b", capacity_ah: 3.3, fuse_a: 25 }]);

  // and the new version is kept for offline use
  await server.stop();
  await page.goto("/setup/stored");
  await expect(page.getByRole("heading", { name: "Nowhere else at all" })).toBeVisible();
});

test("another tab goes on with the old version and is told", async ({ page, context, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Blue 8" });
  const other = await context.newPage();
  await open(other, `/p/${code}/edit`);
  await fillAll(other, { name: "Blue 8b" });
  let loads = 0;
  other.on("load", () => loads++);

  await server.stop();
  await server.start(next.program);
  await comeBack(page);
  await reloadNow(page);
  await page.goto("/setup/stored");
  await expect(page.getByRole("heading", { name: "Nowhere else at all" })).toBeVisible();

  await expect(other.getByText("A new version is ready.")).toBeVisible();
  await expect(field(other, "name")).toHaveValue("Blue 8b");
  await other.getByRole("link", { name: "Blue 8", exact: true }).click(); // a screen of the old version
  await expect(other.getByRole("heading", { level: 1 })).toContainText("Blue 8");
  expect(loads, "nothing reloads by itself").toBe(0);
});

test("500 unsent entries while one of two tabs updates and the other hangs: each arrives once, nobody waits long", async ({
  page: hung,
  context,
  server,
}) => {
  await open(hung);
  const code = await addPack(hung, { name: "Blue 9" });
  await expect(lamp(hung)).toHaveText("All sent");
  await server.stop();
  const made = notes(500);
  await leaveUnsent(hung, made);
  const updating = await context.newPage();
  for (const tab of [hung, updating]) {
    await tab.goto(`/p/${code}`);
    await expect(lamp(tab)).toHaveText("500 unsent");
  }

  // the old tab sends; the server takes it, but the answer is long on its way
  let arrived = (_: unknown) => {};
  let answer = () => {};
  const sending = new Promise((resolve) => (arrived = resolve));
  const late = new Promise<void>((resolve) => (answer = resolve));
  await hung.route("**/api/v1/entries", async (route) => {
    if (route.request().method() !== "POST") return route.fallback();
    const response = await route.fetch();
    arrived(response);
    await late;
    await route.fulfill({ response });
  });
  let sentAt = 0; // by the other tab
  updating.on("request", (request) => {
    if (request.method() === "POST" && request.url().endsWith("/api/v1/entries")) sentAt ||= Date.now();
  });
  await updating.route("**/api/v1/health", (route) => route.abort()); // it must not be the first
  await server.start(next.program);
  await comeBack(hung);
  await sending;
  expect((await server.health()).head, "pack and first batch").toBe(201);
  expect((await phoneEntries(hung)).length).toBe(501);

  await updating.unroute("**/api/v1/health");
  await comeBack(updating);
  await reloadNow(updating); // 500 wait, and the old tab holds the lock
  const from = Date.now();
  await expect(lamp(updating)).toHaveText("500 unsent");
  await expect(updating.getByRole("heading", { level: 1 }), "the new version opens the old data").toHaveText(`Blue 9 ${code}`);
  await addNote(updating, code, "meanwhile");
  expect(sentAt, "it lets the other go first").toBe(0);
  await expect(lamp(updating)).toHaveText("All sent");
  expect(sentAt - from, "ms until it goes ahead").toBeLessThan(5000);

  answer();
  await expect(lamp(hung)).toHaveText("All sent");
  await expect(hung.getByText("A new version is ready.")).toBeVisible();
  const stored = (await server.entries()).map((entry) => entry.id);
  expect(stored).toHaveLength(502);
  expect(new Set(stored)).toEqual(new Set((await phoneEntries(hung)).map((entry) => entry.id)));
  expect(stored).toEqual(expect.arrayContaining(made.map((entry) => entry.id)));
  await updating.goto("/setup/stored");
  await expect(updating.getByRole("heading", { name: "Nowhere else at all" })).toBeVisible();
});

/** comeBack is the app returning to the foreground: then it looks for a new version. */
async function comeBack(page: Page): Promise<void> {
  await page.evaluate(() => document.dispatchEvent(new Event("visibilitychange")));
}

/** reloadNow agrees to the new version and waits for the page it loads. */
async function reloadNow(page: Page): Promise<void> {
  const loaded = page.waitForEvent("load");
  await page.getByRole("button", { name: "Reload now" }).click();
  await loaded;
  await expectReady(page);
}
