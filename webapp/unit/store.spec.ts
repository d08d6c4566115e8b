import "fake-indexeddb/auto";
import { forceCloseDatabase } from "fake-indexeddb";
import { expect, test } from "@playwright/test";
import { Problem } from "../src/core/problem";
import { Store } from "../src/data/store";
import { entry, freshName } from "./fake";

const original = { commit: IDBTransaction.prototype.commit, transaction: IDBDatabase.prototype.transaction };

test.afterEach(() => {
  Object.assign(IDBTransaction.prototype, { commit: original.commit });
  Object.assign(IDBDatabase.prototype, { transaction: original.transaction });
});

/** The next `times` commits abort with an error of this name, as on a full disk. */
function failCommits(name: string, times = 1): void {
  IDBTransaction.prototype.commit = function (this: IDBTransaction) {
    if (times-- > 0) (this as unknown as { _abort(name: string): void })._abort(name);
    else original.commit.call(this);
  };
}

/** The transactions started from here on, with the connection they ran on. */
function spyOnTransactions() {
  const started: { stores: string[]; durability: string | undefined; db: IDBDatabase }[] = [];
  IDBDatabase.prototype.transaction = function (this: IDBDatabase, stores, mode, options) {
    started.push({ stores: [stores].flat() as string[], durability: options?.durability, db: this });
    return original.transaction.call(this, stores, mode, options);
  };
  return started;
}

test("an own entry is saved with its outbox row in one strict transaction", async () => {
  const store = new Store(freshName());
  await store.count(); // opens the database
  const started = spyOnTransactions();
  await store.saveOwn([entry(1)]);
  expect(started.map(({ stores, durability }) => [stores.sort(), durability])).toEqual([[["entries", "outbox"], "strict"]]);
  expect(await store.entries([entry(1).id])).toEqual([entry(1)]);
  expect(await store.outbox()).toEqual([{ id: entry(1).id, state: "waiting", reason: "", hint: "" }]);
});

test("an abort at commit is not called saved, and leaves nothing behind", async () => {
  const store = new Store(freshName());
  await store.count();
  failCommits("QuotaExceededError", 9);
  const saved = store.saveOwn([entry(1)]);
  await expect(saved).rejects.toMatchObject({ name: "Problem", kind: "no_space" });
  expect(await store.count()).toBe(0);
  expect(await store.outbox()).toEqual([]);

  failCommits("UnknownError", 9);
  await expect(store.saveOwn([entry(1)])).rejects.toMatchObject({ kind: "internal" });
  expect(await store.count()).toBe(0);
});

test("a full phone gives up its ballast for one more entry", async () => {
  const store = new Store(freshName());
  await store.keepBallast();
  failCommits("QuotaExceededError", 1);
  await store.saveOwn([entry(1)]);
  expect(await store.count()).toBe(1);
  const left = await store.db.read(["meta"], (tx) => tx.store.getKey("ballast"));
  expect(left).toBeUndefined();
});

test("a lost connection is opened anew", async () => {
  const store = new Store(freshName());
  await store.saveOwn([entry(1)]);
  const started = spyOnTransactions();
  await store.count();
  forceCloseDatabase(started[0]!.db as never);
  await store.saveOwn([entry(2)]);
  expect(await store.count()).toBe(2);
});

test("a connection that is lost again and again is reported, not believed", async () => {
  const store = new Store(freshName());
  await store.saveOwn([entry(1)]);
  let lost = 0;
  IDBDatabase.prototype.transaction = () => {
    lost++;
    throw new DOMException("Connection to Indexed Database server lost. Refresh the page to try again", "UnknownError");
  };
  await expect(store.saveOwn([entry(2)])).rejects.toBeInstanceOf(Problem);
  expect(lost).toBe(3);
  IDBDatabase.prototype.transaction = original.transaction;
  expect(await store.count()).toBe(1); // and the store works again
});

test("a newer version in another tab gets its way, and this tab says so", async () => {
  const name = freshName();
  const store = new Store(name);
  await store.saveOwn([entry(1)]);
  const newer = await new Promise<IDBDatabase>((resolve, reject) => {
    const request = indexedDB.open(name, 2);
    request.onsuccess = () => resolve(request.result);
    request.onblocked = () => reject(new Error("blocked"));
  });
  await expect(store.saveOwn([entry(2)])).rejects.toMatchObject({ kind: "unsupported" });
  newer.close();
});

test("work that throws half-way leaves nothing", async () => {
  const store = new Store(freshName());
  const work = store.db.write(["entries"], async (tx) => {
    await tx.store.put({ id: entry(1).id, entry: entry(1) });
    throw new Error("half-way");
  });
  await expect(work).rejects.toThrow("half-way");
  expect(await store.count()).toBe(0);
});

test("the device id stays, and is new with new storage", async () => {
  const name = freshName();
  const device = await new Store(name).device();
  expect(device).toMatch(/^[0-9a-f]{16}$/);
  expect(await new Store(name).device()).toBe(device);
  expect(await new Store(freshName()).device()).not.toBe(device);
});

test("all entries come in batches", async () => {
  const store = new Store(freshName());
  const all = Array.from({ length: 7 }, (_, n) => entry(n));
  await store.saveOwn(all);
  const batches: number[] = [];
  const seen: unknown[] = [];
  await store.eachBatch(3, (entries) => {
    batches.push(entries.length);
    seen.push(...entries);
  });
  expect(batches).toEqual([3, 3, 1]);
  expect(seen).toEqual(all);
});

test("only what was taken leaves the outbox", async () => {
  const store = new Store(freshName());
  await store.saveOwn([entry(1), entry(2), entry(3)]);
  await store.settle([
    { id: entry(1).id, taken: true, reason: "", hint: "" },
    { id: entry(2).id, taken: false, reason: "too long", hint: "shorten it" },
  ]);
  expect(await store.outbox()).toEqual([
    { id: entry(2).id, state: "refused", reason: "too long", hint: "shorten it" },
    { id: entry(3).id, state: "waiting", reason: "", hint: "" },
  ]);
  expect(await store.confirmed()).toEqual([entry(1).id]);
  await store.sendAgain([entry(1).id, entry(2).id, entry(9).id]);
  expect((await store.outbox()).map((row) => [row.id, row.state])).toEqual([1, 2, 3].map((n) => [entry(n).id, "waiting"]));
});

test("an offer to one epoch does not count for the next", async () => {
  const store = new Store(freshName());
  await store.reset("E");
  await store.reset("F"); // by another tab, while the offer was made
  await store.offered("E");
  expect((await store.progress()).offer).toBe(true);
  await store.offered("F");
  expect((await store.progress()).offer).toBe(false);
});

test.describe("a page", () => {
  test("is stored together with its cursor", async () => {
    const store = new Store(freshName());
    await store.count();
    const started = spyOnTransactions();
    expect(await store.applyPage("E", 0, 2, [entry(1), entry(2)])).toEqual([entry(1), entry(2)]);
    expect(started.map(({ stores }) => stores.sort())).toEqual([["entries", "meta"]]);
    expect(await store.progress()).toEqual({ epoch: "E", cursor: 2, offer: false });
  });

  test("that cannot be stored leaves the cursor where it was", async () => {
    const store = new Store(freshName());
    await store.applyPage("E", 0, 1, [entry(1)]);
    const broken = { ...entry(2), body: () => {} }; // cannot be cloned
    await expect(store.applyPage("E", 1, 2, [broken])).rejects.toBeInstanceOf(Problem);
    expect(await store.progress()).toEqual({ epoch: "E", cursor: 1, offer: false });
    expect(await store.count()).toBe(1);
  });

  test("that comes late does not move the cursor back", async () => {
    const store = new Store(freshName());
    await store.applyPage("E", 0, 5, [entry(1), entry(2)]);
    expect(await store.applyPage("E", 0, 2, [entry(1), entry(3)])).toEqual([entry(3)]);
    expect((await store.progress()).cursor).toBe(5);
  });

  test("of another epoch, or beyond a gap, is not taken", async () => {
    const store = new Store(freshName());
    await store.applyPage("E", 0, 5, [entry(1)]);
    expect(await store.applyPage("F", 5, 6, [entry(2)])).toBeNull();
    await store.reset("E"); // the server lost its tail; a page asked for before the reset arrives
    expect(await store.applyPage("E", 5, 6, [entry(2)])).toBeNull();
    expect(await store.count()).toBe(1);
    expect(await store.progress()).toEqual({ epoch: "E", cursor: 0, offer: true });
  });

  test("never changes an entry that is held", async () => {
    const store = new Store(freshName());
    await store.saveOwn([entry(1)]);
    expect(await store.applyPage("E", 0, 1, [entry(1, { text: "another" })])).toEqual([]);
    expect(await store.entries([entry(1).id])).toEqual([entry(1)]);
  });
});
