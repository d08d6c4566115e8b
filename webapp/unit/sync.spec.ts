import "fake-indexeddb/auto";
import { expect, test } from "@playwright/test";
import { API } from "../src/data/api";
import { clockOffsetMS, lastSync, reachable, serverAddress, syncing, syncProblem, tooOld, welcomePage } from "../src/data/status";
import { Store } from "../src/data/store";
import { Syncer } from "../src/data/sync";
import { entry, type Fault, freshName, Locks, problemBody, Server } from "./fake";

/** A tab on one database, with a clock and a timer under control. */
function tab(server: Server, o: { name?: string; locks?: Locks; now?: () => number; allowed?: () => boolean } = {}) {
  const timers: { ms: number; run: () => void }[] = [];
  const store = new Store(o.name ?? freshName());
  const now = o.now ?? (() => 0);
  const syncer = new Syncer({
    store,
    api: new API(server.fetch, now),
    tell: { added: async () => {}, outboxChanged: async () => {} },
    allowed: o.allowed ?? (() => true),
    locks: o.locks as unknown as LockManager | undefined,
    now,
    random: () => 0,
    after(ms, run) {
      const timer = { ms, run };
      timers.push(timer);
      return () => void timers.splice(timers.indexOf(timer), 1);
    },
  });
  return { store, syncer, timers };
}

test.beforeEach(() => {
  reachable.value = null;
  lastSync.value = null;
  syncProblem.value = null;
  tooOld.value = false;
  clockOffsetMS.value = null;
});

test("a good round is dated, and the next one waits its time", async () => {
  const server = new Server();
  const { store, syncer, timers } = tab(server, { now: () => 1234 });
  await store.saveOwn([entry(1)]);
  const shown: boolean[] = [];
  const stop = syncing.subscribe((value) => shown.push(value));
  expect(await syncer.sync()).toBe(true);
  stop();
  expect(shown).toEqual([false, true, false]);
  expect(server.log).toEqual([entry(1)]);
  expect([reachable.value, lastSync.value, syncProblem.value]).toEqual([true, 1234, null]);
  expect(await store.lastSync()).toBe(1234);
  expect(timers.map(({ ms }) => ms)).toEqual([60_000]);
});

test("without a server the probe alone is tried, later and later", async () => {
  const server = new Server();
  server.faults.health = Array.from({ length: 20 }, () => "down" as const);
  const { store, syncer, timers } = tab(server);
  await store.saveOwn([entry(1)]);
  const waits: number[] = [];
  for (let i = 0; i < 10; i++) {
    expect(await syncer.sync()).toBe(false);
    waits.push(timers.at(-1)!.ms);
    expect(timers).toHaveLength(1);
  }
  expect(waits.slice(0, 4)).toEqual([1000, 2000, 4000, 8000]); // with the least jitter
  expect(waits.at(-1)).toBe(150_000);
  expect(server.requests).not.toContain("push");
  expect(syncing.value).toBe(false);
  expect([reachable.value, lastSync.value, syncProblem.value]).toEqual([false, null, null]);
  expect(await store.outbox()).toHaveLength(1);
});

for (const body of ["<html>sign in</html>", '{"status":"login required"}']) {
  test(`a captive portal is named: ${body}`, async () => {
    const server = new Server();
    server.faults.health = [{ status: 200, body }];
    const { syncer } = tab(server);
    await syncer.sync();
    expect(reachable.value).toBe(false);
    expect(syncProblem.value).toContain("something else answered");
  });
}

test("a busy server is left alone for as long as it asks, but not by the user", async () => {
  const server = new Server();
  let now = 0;
  server.faults.health = [{ status: 429, body: "{}", headers: { "Retry-After": "90" } }];
  const { syncer, timers } = tab(server, { now: () => now });
  await syncer.sync();
  expect(timers.map(({ ms }) => ms)).toEqual([90_000]);
  now = 89_999;
  syncer.nudge();
  expect(server.requests).toEqual(["health"]);
  now = 90_000;
  syncer.nudge();
  await syncer.sync();
  expect(server.requests.length).toBeGreaterThan(1);
  expect(reachable.value).toBe(true);
});

// An app that is older than the server takes: health says so, or any other
// request does, where the server was updated in between.
for (const [what, health, push] of [
  ["its probe", { status: 200, body: JSON.stringify({ ok: true, api: 2, min_client: 2 }) }, "pass"],
  ["its entries", "pass", { status: 426, body: problemBody("this version is too old for the server") }],
] satisfies [string, Fault, Fault][]) {
  test(`a server that needs a newer app says so to ${what}, and nothing is lost`, async () => {
    const server = new Server();
    server.faults = { health: [health], push: [push] };
    const { store, syncer } = tab(server);
    await store.saveOwn([entry(1)]);
    expect(await syncer.sync()).toBe(false);
    expect([tooOld.value, reachable.value]).toEqual([true, true]);
    expect(syncProblem.value).toContain("too old");
    expect(syncProblem.value).toContain("reload the app");
    expect((await store.outbox()).map((row) => row.state)).toEqual(["waiting"]);
    expect(await store.entries([entry(1).id])).toHaveLength(1);
    expect(await syncer.sync()).toBe(true); // it was updated
    expect([tooOld.value, syncProblem.value]).toEqual([false, null]);
    expect(server.log).toEqual([entry(1)]);
  });
}

test("a status 426 that is not our server's word is a network's", async () => {
  const server = new Server();
  server.faults.push = [{ status: 426, body: "<html>" }];
  const { store, syncer } = tab(server);
  await store.saveOwn([entry(1)]);
  expect(await syncer.sync()).toBe(false);
  expect(tooOld.value).toBe(false);
  expect(syncProblem.value).toContain("something else answered");
});

test("a newer server that still takes this app is synced with", async () => {
  const server = new Server();
  server.api = 9;
  const { store, syncer } = tab(server);
  await store.saveOwn([entry(1)]);
  expect(await syncer.sync()).toBe(true);
  expect(server.log).toEqual([entry(1)]);
  expect([...server.apiTold]).toEqual(["1"]); // it is told with every request
});

test("a server too old for this app is left alone, and nothing is lost", async () => {
  const server = new Server();
  server.api = 0;
  const { store, syncer } = tab(server);
  await store.saveOwn([entry(1)]);
  expect(await syncer.sync()).toBe(false);
  expect(server.requests).toEqual(["health"]);
  expect([tooOld.value, reachable.value]).toEqual([false, true]);
  expect(syncProblem.value).toContain("update the server");
  expect(await store.outbox()).toHaveLength(1);
});

test("the server says where other devices reach it, and older ones say nothing", async () => {
  const server = new Server();
  const { syncer } = tab(server);
  for (const address of ["https://pit.local:8443", undefined]) {
    server.address = address;
    await syncer.sync();
    expect(serverAddress.value).toBe(address ?? "");
  }
});

test("the server says where its welcome page is", async () => {
  const server = new Server();
  const { syncer } = tab(server);
  for (const address of ["http://pit.local:9088", "", undefined]) {
    server.welcome = address;
    await syncer.sync();
    expect(welcomePage.value).toBe(address ?? "");
  }
});

test("calls during a round share one more", async () => {
  const server = new Server();
  const { syncer } = tab(server);
  await Promise.all(Array.from({ length: 9 }, () => syncer.sync()));
  expect(server.requests.filter((route) => route === "health")).toHaveLength(2);
});

test("two tabs send each entry once", async () => {
  const server = new Server();
  const sent: string[] = [];
  server.chokes = (entries) => {
    sent.push(...entries.map((e) => e.id));
    return false;
  };
  const name = freshName();
  const locks = new Locks();
  const a = tab(server, { name, locks });
  const b = tab(server, { name, locks });
  await a.store.saveOwn(Array.from({ length: 500 }, (_, n) => entry(n)));
  await Promise.all([a.syncer.sync(), b.syncer.sync()]);
  expect(sent).toHaveLength(500);
  expect(server.log).toHaveLength(500);
  expect([...a.timers, ...b.timers].map(({ ms }) => ms).sort((x, y) => x - y)).toEqual([1000, 60_000]);
});

test("a frozen tab that holds the lock stops the others for a while only", async () => {
  const server = new Server();
  let now = 0;
  const locks = new Locks();
  locks.held.add("packwright-sync");
  const { store, syncer } = tab(server, { locks, now: () => now });
  await store.saveOwn([entry(1)]);
  for (now = 0; now <= 4_000; now += 1000) expect(await syncer.sync()).toBe(false);
  expect(server.requests).toEqual([]);
  now = 5_000;
  await syncer.sync();
  expect(server.log).toEqual([entry(1)]);
});

test("two tabs without locks do no harm either", async () => {
  const server = new Server();
  const name = freshName();
  const a = tab(server, { name });
  const b = tab(server, { name });
  server.log = Array.from({ length: 30 }, (_, n) => entry(n));
  server.pageSize = 4;
  await a.store.saveOwn(Array.from({ length: 20 }, (_, n) => entry(100 + n)));
  await Promise.all([a.syncer.sync(), b.syncer.sync()]);
  await Promise.all([a.syncer.sync(), b.syncer.sync()]);
  expect(server.log).toHaveLength(50);
  expect(await a.store.outbox()).toEqual([]);
  expect(await a.store.count()).toBe(50);
  expect((await a.store.progress()).cursor).toBe(50);
});

test("the clock's offset is measured against the middle of the round trip", async () => {
  const server = new Server();
  let now = 1_000_000;
  server.now = () => {
    now += 40; // on the way there; the way back takes as long
    const told = now - 3_600_000; // the server is an hour behind
    now += 40;
    return told;
  };
  const { syncer } = tab(server, { now: () => now });
  await syncer.sync();
  expect(clockOffsetMS.value).toBe(-3_600_000);
});
