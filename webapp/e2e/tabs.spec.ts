// Several tabs of one phone: they show the same and send each entry once.

import { addNote, addPack, lamp, open } from "./support/app";
import { leaveUnsent, notes } from "./support/journal";
import type { Entry } from "./support/server";
import { type BrowserContext, expect, test } from "./support/test";

/** sentBy notes the id of every entry that any tab sends. */
function sentBy(context: BrowserContext): string[] {
  const ids: string[] = [];
  context.on("request", (request) => {
    if (request.method() !== "POST" || !request.url().endsWith("/api/v1/entries")) return;
    ids.push(...(request.postDataJSON() as { entries: Entry[] }).entries.map((entry) => entry.id));
  });
  return ids;
}

test("an entry made in one tab appears in the other, and is sent once", async ({ page, context, server }) => {
  const sent = sentBy(context);
  await open(page);
  const code = await addPack(page, { name: "Blue 1" });
  const other = await context.newPage();
  await open(other, `/p/${code}`);

  await addNote(page, code, "seen in both");
  await expect(other.getByText("seen in both")).toBeVisible();
  await addNote(other, code, "and back");
  await expect(page.getByText("and back")).toBeVisible();
  await expect(lamp(page)).toHaveText("All sent");
  await expect(lamp(other)).toHaveText("All sent");

  const stored = (await server.entries()).map((entry) => entry.id);
  expect(stored).toHaveLength(3);
  expect(sent.toSorted()).toEqual(stored.toSorted());
});

test("initials set in one tab stand on what the other makes", async ({ page, context, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Blue 2" });
  const other = await context.newPage();
  await open(other, "/setup");
  await other.getByLabel("Your initials").fill("KM");
  await addNote(page, code, "by KM");
  await expect(lamp(page)).toHaveText("All sent");
  expect((await server.entries()).map((entry) => entry.by)).toEqual(["", "KM"]);
});

test("500 unsent entries, two tabs and a frozen one: each entry is sent once", async ({ page, context, server }) => {
  await open(page);
  await server.stop();
  await leaveUnsent(page, notes(500));
  const sent = sentBy(context);
  const [second, frozen] = [await context.newPage(), await context.newPage()];
  for (const tab of [page, second, frozen]) {
    await tab.goto("/");
    await expect(lamp(tab)).toHaveText("500 unsent");
  }
  const session = await context.newCDPSession(frozen);
  await session.send("Page.setWebLifecycleState", { state: "frozen" });

  await server.start();
  await Promise.all([page, second].map((tab) => expect(lamp(tab)).toHaveText("All sent")));
  await session.send("Page.setWebLifecycleState", { state: "active" });
  await expect(lamp(frozen)).toHaveText("All sent");

  expect((await server.health()).head).toBe(500);
  expect(sent).toHaveLength(500);
  expect(new Set(sent).size).toBe(500);
});
