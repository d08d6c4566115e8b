// Things die at the worst moment: the server while a phone is sending, the
// phone while it is receiving, the phone's storage altogether.

import { statSync } from "node:fs";
import { join } from "node:path";
import { crash, expectReady, lamp, open } from "./support/app";
import { leaveUnsent, notes, outboxSize, phoneEntries } from "./support/journal";
import { packwright, type Server } from "./support/server";
import { expect, test } from "./support/test";

const byID = (a: { id: string }, b: { id: string }) => (a.id < b.id ? -1 : 1);

test("server killed three times while a phone sends: nothing lost, nothing twice", async ({ page, server }) => {
  await open(page);
  await server.stop();
  const made = notes(2000);
  await leaveUnsent(page, made);
  await page.reload();
  await expect(lamp(page)).toHaveText("2000 unsent");

  let stored = 0;
  for (let round = 0; round < 3; round++) {
    await server.start();
    await killWhileWriting(server);
    const survived = await entriesOnDisk(server);
    expect(survived, "killed in the middle").toBeGreaterThan(stored);
    expect(survived, "killed in the middle").toBeLessThan(made.length);
    const confirmed = made.length - (await outboxSize(page));
    expect(confirmed, "nothing is confirmed that is not on disk").toBeLessThanOrEqual(survived);
    stored = survived;
  }
  await server.start();
  await expect(lamp(page)).toHaveText("All sent");

  const entries = await server.entries();
  expect(entries).toHaveLength(made.length);
  expect(entries.toSorted(byID)).toEqual(made.toSorted(byID));
  expect((await server.health()).head).toBe(made.length);
});

/** killWhileWriting waits until the journal file grows, and kills the program in that moment. */
async function killWhileWriting(server: Server): Promise<void> {
  const size = () => statSync(join(server.data, "journal.jsonl")).size;
  const before = size();
  await expect.poll(size, { intervals: [1], timeout: 30_000 }).toBeGreaterThan(before);
  await server.kill();
}

/** entriesOnDisk counts what a killed server has kept: a last line that it could not finish is none. */
async function entriesOnDisk(server: Server): Promise<number> {
  const lines = await packwright("journal", "--data", server.data).catch((refused: { stdout: string; stderr: string }) => {
    if (/the last line is not finished/.test(refused.stderr)) return refused.stdout;
    throw refused;
  });
  return lines.split("\n").filter(Boolean).length;
}

test("phone killed while it receives: on the next start it has all, each once", async ({ page, context, server }) => {
  const made = notes(5000);
  await server.push(made);
  const health = await context.newPage(); // of the same origin, without the app
  await health.goto("/api/v1/health");
  await page.goto("/", { waitUntil: "commit" });
  await expect.poll(async () => (await phoneEntries(health)).length, { intervals: [1] }).toBeGreaterThan(0);
  await crash(page);
  const arrived = (await phoneEntries(health)).length;
  expect(arrived, "killed in the middle").toBeLessThan(made.length);

  const again = await context.newPage();
  await open(again);
  await expect.poll(async () => (await phoneEntries(health)).length).toBe(made.length);
  expect((await phoneEntries(health)).toSorted(byID)).toEqual(made.toSorted(byID));
  expect((await server.health()).head).toBe(made.length);
});

test("phone wiped: it becomes a new device, gets all back, and old entries keep their author", async ({ page, server }) => {
  await open(page);
  const made = notes(50);
  await server.push(made);
  await expect.poll(async () => (await phoneEntries(page)).length).toBe(50);
  const before = await deviceOf(page);

  const session = await page.context().newCDPSession(page);
  await session.send("Storage.clearDataForOrigin", { origin: server.origin, storageTypes: "all" });
  await open(page);
  await expect.poll(async () => (await phoneEntries(page)).length).toBe(50);
  expect((await phoneEntries(page)).toSorted(byID)).toEqual(made.toSorted(byID));
  expect(await deviceOf(page)).not.toBe(before);
  expect((await server.health()).head).toBe(50);
});

async function deviceOf(page: Parameters<typeof expectReady>[0]): Promise<string> {
  await page.goto("/setup");
  await expectReady(page);
  const device = page.locator("dl div").filter({ hasText: "Device id" }).locator("dd");
  await expect(device).toHaveText(/^[0-9a-f]{16}$/);
  return (await device.textContent()) ?? "";
}
