import "fake-indexeddb/auto";
import { expect, test } from "@playwright/test";
import { Problem } from "../src/core/problem";
import type { Entry } from "../src/core/types";
import { API, Later } from "../src/data/api";
import { Exchange } from "../src/data/exchange";
import { Store } from "../src/data/store";
import { entry, freshName, problemBody, Server } from "./fake";

const portal = "<html><body>Welcome to the hall's network</body></html>";

/** A phone with an empty store, and what its exchange told. */
function phone(server: Server) {
  const store = new Store(freshName());
  const added: Entry[] = [];
  const exchange = new Exchange(store, new API(server.fetch), {
    added: async (entries) => void added.push(...entries),
    outboxChanged: async () => {},
  });
  return { store, exchange, added };
}

async function outbox(store: Store) {
  return (await store.outbox()).map(({ id, state, reason }) => ({ id, state, reason }));
}

/** The nth entry of a phone, which voids another one. */
const voiding = (n: number, of: number): Entry => ({ ...entry(n, { entry: entry(of).id }), kind: "voided" });

/** Poison of a server that takes no void before what it voids. */
const lacksWhatItVoids = (server: Server) => (e: Entry) =>
  e.kind === "voided" && !server.log.some(({ id }) => id === (e.body as { entry: string }).entry) ? "not here" : null;

const waiting = (n: number) => ({ id: entry(n).id, state: "waiting", reason: "" });

test("everything is sent, everything is fetched", async () => {
  const server = new Server();
  server.log.push(entry(1), entry(2));
  const { store, exchange, added } = phone(server);
  await store.saveOwn([entry(3)]);
  await exchange.run();
  expect(server.log).toEqual([entry(1), entry(2), entry(3)]);
  expect(added).toEqual([entry(1), entry(2)]);
  expect(await outbox(store)).toEqual([]);
  expect(await store.count()).toBe(3);
  expect(await store.progress()).toEqual({ epoch: "E1", cursor: 3, offer: false });
});

test("a lost response is not an acknowledgement, and sending again makes no second copy", async () => {
  const server = new Server();
  server.faults.push = ["lost"];
  const { store, exchange } = phone(server);
  await store.saveOwn([entry(1)]);
  await expect(exchange.run()).rejects.toBeInstanceOf(Later);
  expect(server.log).toHaveLength(1);
  expect(await outbox(store)).toEqual([waiting(1)]);
  await exchange.run();
  expect(server.log).toHaveLength(1);
  expect(await outbox(store)).toEqual([]);
});

const strangers: Record<string, string> = {
  "a captive portal's page": portal,
  "JSON of another shape": JSON.stringify({ epoch: "E1" }),
  "a list": "[]",
  "null": "null",
  "results without ids": JSON.stringify({ epoch: "E1", results: [{ status: "accepted" }] }),
  "a result that is none": JSON.stringify({ epoch: "E1", results: [null] }),
  "half an answer": '{"epoch":"E1","results":[',
};
for (const [what, body] of Object.entries(strangers)) {
  test(`status 200 with ${what} acknowledges nothing`, async () => {
    const server = new Server();
    server.faults.push = [{ status: 200, body }];
    const { store, exchange } = phone(server);
    await store.saveOwn([entry(1)]);
    await expect(exchange.run()).rejects.toBeInstanceOf(Later);
    expect(await outbox(store)).toEqual([waiting(1)]);
  });
}

test("an acknowledgement of other entries is none of ours", async () => {
  const server = new Server();
  const results = [{ index: 0, id: entry(2).id, status: "accepted" }];
  server.faults.push = [{ status: 200, body: JSON.stringify({ epoch: "E1", results }) }];
  const { store, exchange } = phone(server);
  await store.saveOwn([entry(1)]);
  await expect(exchange.run()).rejects.toBeInstanceOf(Later);
  expect(await outbox(store)).toEqual([waiting(1)]);
});

for (const status of [401, 403, 404, 408, 426, 429, 500, 502, 503, 507]) {
  test(`status ${status} keeps the entry waiting`, async () => {
    const server = new Server();
    server.faults.push = [{ status, body: status % 2 ? problemBody("not now") : portal }];
    const { store, exchange } = phone(server);
    await store.saveOwn([entry(1)]);
    await expect(exchange.run()).rejects.toBeInstanceOf(Later);
    expect(await outbox(store)).toEqual([waiting(1)]);
    await exchange.run();
    expect(await outbox(store)).toEqual([]);
  });
}

test("a server whose disk is full still gives what it has", async () => {
  const server = new Server();
  server.log.push(entry(1));
  server.faults.push = [{ status: 507, body: problemBody("the disk is full") }];
  const { store, exchange, added } = phone(server);
  await store.saveOwn([entry(2)]);
  await expect(exchange.run()).rejects.toThrow("the disk is full");
  expect(added).toEqual([entry(1)]);
  expect(await outbox(store)).toEqual([waiting(2)]);
});

test("a stranger's 400 parks nothing", async () => {
  const server = new Server();
  server.faults.push = [portal, "{}", '{"problem":"no"}'].map((body) => ({ status: 400, body }));
  const { store, exchange } = phone(server);
  await store.saveOwn([entry(1)]);
  for (let i = 0; i < 3; i++) {
    await expect(exchange.run()).rejects.toBeInstanceOf(Later);
    expect(await outbox(store)).toEqual([waiting(1)]);
  }
});

for (const [place, bad] of [["head", 0], ["middle", 6], ["tail", 12]] as const) {
  test(`an entry refused at the ${place} stays with its reason, the others go`, async () => {
    const server = new Server();
    server.poison = (e) => (e.id === entry(bad).id ? "a note must have a text" : null);
    const { store, exchange } = phone(server);
    await store.saveOwn(Array.from({ length: 13 }, (_, n) => entry(n)));
    await exchange.run();
    expect(server.log).toHaveLength(12);
    expect(await outbox(store)).toEqual([{ id: entry(bad).id, state: "refused", reason: "a note must have a text" }]);
    expect(await store.count()).toBe(13);
    server.requests = [];
    await exchange.run();
    expect(server.requests).toEqual(["pull"]); // not sent over and over
  });

  test(`a batch that chokes on its ${place} is split until the culprit is alone`, async () => {
    const server = new Server();
    server.chokes = (entries) => entries.some((e) => e.id === entry(bad).id);
    const { store, exchange } = phone(server);
    await store.saveOwn(Array.from({ length: 13 }, (_, n) => entry(n)));
    await exchange.run();
    expect(server.log).toHaveLength(12);
    expect(await outbox(store)).toEqual([{ id: entry(bad).id, state: "refused", reason: "this body is unreadable" }]);
  });
}

test("a conflict stays visible", async () => {
  const server = new Server();
  server.log.push(entry(1, { text: "another" }));
  const { store, exchange } = phone(server);
  await store.saveOwn([entry(1)]);
  await exchange.run();
  expect(await outbox(store)).toMatchObject([{ id: entry(1).id, state: "refused" }]);
});

test("an entry whose id the server could not read is known by its place", async () => {
  const server = new Server();
  const results = [{ index: 0, id: "", status: "refused", reason: "no id" }];
  server.faults.push = [{ status: 200, body: JSON.stringify({ epoch: "E1", results }) }];
  const { store, exchange } = phone(server);
  await store.saveOwn([entry(1)]);
  await exchange.run();
  expect(await outbox(store)).toEqual([{ id: entry(1).id, state: "refused", reason: "no id" }]);
});

test("an unknown verdict keeps its entry and does not hold up the next batch", async () => {
  const server = new Server();
  const results = Array.from({ length: 200 }, (_, n) => ({ index: n, id: entry(n).id, status: "perhaps" }));
  server.faults.push = [{ status: 200, body: JSON.stringify({ epoch: "E1", results }) }];
  const { store, exchange } = phone(server);
  await store.saveOwn(Array.from({ length: 201 }, (_, n) => entry(n)));
  await expect(exchange.run()).rejects.toThrow("200 entries");
  expect(server.log).toEqual([entry(200)]);
  await exchange.run();
  expect(server.log).toHaveLength(201);
});

test("voids are sent after what they void, whatever the clocks said", async () => {
  const server = new Server();
  server.poison = lacksWhatItVoids(server);
  const { store, exchange } = phone(server);
  const notes = Array.from({ length: 300 }, (_, n) => entry(10 + n));
  await store.saveOwn([voiding(1, 309), ...notes]);
  await exchange.run();
  expect(await outbox(store)).toEqual([]);
  expect(server.log.at(-1)).toEqual(voiding(1, 309));
});

test("batches keep to 200 entries and to 512 KiB, and a larger entry goes alone", async () => {
  const server = new Server();
  const sizes: [number, number][] = [];
  server.chokes = (entries) => {
    sizes.push([entries.length, JSON.stringify(entries).length]);
    return false;
  };
  const { store, exchange } = phone(server);
  await store.saveOwn(Array.from({ length: 450 }, (_, n) => entry(n)));
  await store.saveOwn(Array.from({ length: 3 }, (_, n) => entry(500 + n, { text: "Ω".repeat(150_000) })));
  await store.saveOwn([entry(600, { text: "x".repeat(700_000) })]);
  await exchange.run();
  expect(server.log).toHaveLength(454);
  expect(sizes.map(([n]) => n)).toEqual([200, 200, 51, 1, 1, 1]);
});

test("the sequence is followed page by page, and a broken-off one is resumed", async () => {
  const server = new Server();
  server.log = Array.from({ length: 7 }, (_, n) => entry(n));
  server.pageSize = 3;
  server.faults.pull = ["pass", "down"];
  const { store, exchange, added } = phone(server);
  await expect(exchange.run()).rejects.toBeInstanceOf(Later);
  expect((await store.progress()).cursor).toBe(3);
  await exchange.run();
  expect(added).toEqual(server.log); // each once
  expect((await store.progress()).cursor).toBe(7);
});

test("pages that do not move on end the round", async () => {
  const server = new Server();
  const body = JSON.stringify({ epoch: "E1", head: 9, entries: [], next: 0, more: true });
  server.faults.pull = Array.from({ length: 50 }, () => ({ status: 200, body }));
  const { exchange } = phone(server);
  await expect(exchange.run()).rejects.toThrow("do not move on");
  expect(server.requests).toEqual(["pull"]);
});

test("a server that starts over again and again ends the round", async () => {
  const server = new Server();
  const { exchange } = phone(server);
  server.faults.pull = Array.from({ length: 50 }, (_, n) => ({ status: 409, body: JSON.stringify({ reset: true, epoch: `E${n}` }) }));
  await expect(exchange.run()).rejects.toThrow("starting over");
  expect(server.requests.length).toBeLessThan(10);
});

test.describe("after a reset", () => {
  /** A phone that has exchanged five entries, three of them its own. */
  async function settledPhone(server: Server) {
    server.log.push(entry(1), entry(2));
    const settled = phone(server);
    await settled.store.saveOwn([entry(3), entry(4), entry(5)]);
    await settled.exchange.run();
    return settled;
  }

  test("a server restored from an older copy gets back what it lost", async () => {
    const server = new Server();
    const { store, exchange } = await settledPhone(server);
    server.epoch = "E2";
    server.log = [entry(1), entry(6), entry(7)]; // restored, then used by others
    await exchange.run();
    expect(server.log.map((e) => e.id).sort()).toEqual([1, 2, 3, 4, 5, 6, 7].map((n) => entry(n).id));
    expect(await store.count()).toBe(7);
    expect(await store.progress()).toEqual({ epoch: "E2", cursor: 7, offer: false });
    expect(await outbox(store)).toEqual([]);
  });

  test("an older copy under the same epoch is noticed too", async () => {
    const server = new Server();
    const { store, exchange } = await settledPhone(server);
    server.log = [entry(1)];
    await exchange.run();
    expect(server.log).toHaveLength(5);
    expect(await store.progress()).toEqual({ epoch: "E1", cursor: 5, offer: false });
  });

  test("an offer that broke off is made again", async () => {
    const server = new Server();
    const { store, exchange } = await settledPhone(server);
    server.epoch = "E2";
    server.log = [];
    server.faults.offer = ["down"];
    await expect(exchange.run()).rejects.toBeInstanceOf(Later);
    expect((await store.progress()).offer).toBe(true);
    await exchange.run();
    expect(server.log).toHaveLength(5);
    expect((await store.progress()).offer).toBe(false);
  });

  test("what the server wants is asked of what was offered only", async () => {
    const server = new Server();
    const { store, exchange } = await settledPhone(server);
    server.epoch = "E2";
    server.faults.offer = [{ status: 200, body: JSON.stringify({ wanted: [entry(99).id, 5, null] }) }];
    await exchange.run();
    expect(await outbox(store)).toEqual([]);
  });

  test("what the server refuses of an offer leaves the outbox, not the journal, unless it was made here", async () => {
    const server = new Server();
    const { store, exchange } = await settledPhone(server);
    const own = { ...entry(7), device: await store.device() };
    await store.saveOwn([own, entry(8)]); // brought here: from another browser
    await exchange.run();
    const held = await store.count();
    server.epoch = "E2";
    server.log = [];
    server.poison = () => "only a lead may change the team's settings";
    await exchange.run();
    expect(await outbox(store)).toEqual([{ id: own.id, state: "refused", reason: "only a lead may change the team's settings" }]);
    expect(await store.count()).toBe(held);
    server.poison = () => null;
    await store.sendAgain([own.id]);
    await exchange.run();
    expect(await outbox(store)).toEqual([]);
  });

  test("what was refused before is sent again: it may be about what the server had lost", async () => {
    const server = new Server();
    const { store, exchange } = await settledPhone(server);
    server.epoch = "E2";
    server.log = [];
    server.poison = lacksWhatItVoids(server);
    await store.saveOwn([voiding(7, 4)]);
    await exchange.run();
    expect(server.log.map((e) => e.id).sort()).toEqual([1, 2, 3, 4, 5, 7].map((n) => entry(n).id));
    expect(await outbox(store)).toEqual([]);
  });

  test("refused entries are not offered", async () => {
    const server = new Server();
    server.poison = (e) => (e.id === entry(8).id ? "no" : null);
    const { store, exchange } = await settledPhone(server);
    await store.saveOwn([entry(8)]);
    await exchange.run();
    server.epoch = "E2";
    await exchange.run();
    expect(await outbox(store)).toEqual([{ id: entry(8).id, state: "refused", reason: "no" }]);
  });
});

test("a page that cannot be stored is fetched again", async () => {
  const server = new Server();
  server.log.push(entry(1));
  const { store, exchange, added } = phone(server);
  await store.count();
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (this: IDBObjectStore, value: unknown, key?: IDBValidKey) {
    const request = put.call(this, value, key);
    if (key === "progress") (this.transaction as unknown as { _abort(name: string): void })._abort("QuotaExceededError");
    return request;
  };
  await expect(exchange.run()).rejects.toBeInstanceOf(Problem);
  IDBObjectStore.prototype.put = put;
  expect(await store.count()).toBe(0);
  expect(added).toEqual([]);
  await exchange.run();
  expect(added).toEqual([entry(1)]);
});

test("phones that meet the same server hold the same in the end", async () => {
  const server = new Server();
  const a = phone(server);
  const b = phone(server);
  await a.store.saveOwn([entry(1), entry(3)]);
  await b.store.saveOwn([entry(2), entry(4)]);
  for (const { exchange } of [a, b, a]) await exchange.run();
  const all = [1, 2, 3, 4].map((n) => entry(n));
  expect(await a.store.entries(all.map((e) => e.id))).toEqual(all);
  expect(await b.store.entries(all.map((e) => e.id))).toEqual(all);
});
