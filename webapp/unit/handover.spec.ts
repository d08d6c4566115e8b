import "fake-indexeddb/auto";
import { expect, test as base } from "@playwright/test";
import { core } from "../src/core/bridge";
import type { Entry } from "../src/core/types";
import { carried, handedOver, linksTo, lookThrough, MOST_ENTRIES, originIn, take, waiting } from "../src/data/handover";
import { store } from "../src/data/store";
import { CoreWorker, entry } from "./fake";

// A process of its own: these use the app's singletons, as the tests of the journal do.
const test = base.extend<object, { alone: boolean }>({ alone: [true, { scope: "worker", option: true }] });

test.describe.configure({ mode: "serial" }); // they share the app's own store, on a fake core

const origin = "https://pit.local:8443";
const hashOf = (link: string) => new URL(link).hash;
const packed = (text: string) => "#" + Buffer.from(text).toString("base64url");

test.beforeAll(async () => {
  // The real core's part is checked in the browser; here it refuses what the test says.
  CoreWorker.answer = ((name: string, request: { entries?: (Entry | null)[]; check?: boolean; text?: string }) => {
    if (name === "read-code") {
      if (request.text === "7K3QX8") throw { kind: "invalid", text: "the check character does not fit" };
      return { code: request.text, known: false };
    }
    if (name === "add-entries" && request.check) {
      const faults = (request.entries ?? []).map((e, index) => ({ index, reason: "the note is empty", hint: "", bad: typeof e?.body !== "object" }));
      return { refused: faults.filter((fault) => fault.bad) };
    }
    return { packs: [], notes: [] };
  }) as never;
  Object.assign(globalThis, {
    Worker: CoreWorker,
    CORE_WORKER_URL: "core",
    fetch: async () => {
      throw new TypeError("failed to fetch");
    },
  });
  await core.start(async () => {});
});

test("what goes into a link comes out of it, whatever its letters", () => {
  const entries = [entry(1), entry(2, { text: "Ω ± ✓ 🔋 \u2028 ?#&=%" })];
  const links = linksTo(origin, entries);
  expect(links).toHaveLength(1);
  expect(links[0]).toMatch(/^https:\/\/pit\.local:8443\/take#[0-9A-Za-z_-]+$/);
  expect(carried(hashOf(links[0]!))).toEqual(entries);
});

test("much is split into links that a phone opens, and nothing is left out", () => {
  const entries = Array.from({ length: 1200 }, (_, n) => entry(n, { text: "x".repeat(n % 300) }));
  const links = linksTo(origin, entries);
  expect(links.length).toBeGreaterThan(3);
  for (const link of links) expect(link.length).toBeLessThan(70_000);
  expect(links.flatMap((link) => carried(hashOf(link)))).toEqual(entries);
  expect(linksTo(origin, [])).toEqual([]);
});

test("a link's other contents are named, each by its fault", () => {
  const bad: [string, RegExp][] = [
    ["", /carries nothing/],
    ["#", /carries nothing/],
    ["#not base64!", /damaged/],
    ["#%%%", /damaged/],
    ["#" + "A".repeat(5), /damaged/], // no length that base64 has
    [packed("not JSON"), /damaged/],
    [packed('[{"id":"x"'), /damaged/], // cut short
    ["#" + Buffer.from([0xff, 0xfe, 0x5b, 0x5d]).toString("base64url"), /damaged/], // no UTF-8
    [packed('{"entries":[]}'), /damaged/],
    [packed("null"), /damaged/],
    [packed("[]"), /no entries/],
    [packed(JSON.stringify(Array.from({ length: 10_000 }, (_, n) => entry(n)))), /more than 500/],
    [packed(JSON.stringify(Array.from({ length: MOST_ENTRIES + 1 }, () => 0))), /more than 500/],
    ["#" + "A".repeat(5_000_000), /more than 500/],
  ];
  for (const [hash, fault] of bad) expect(() => carried(hash), hash.slice(0, 40)).toThrow(fault);
});

test("entries are looked through one by one: unknown kinds pass, the rest says why not", async () => {
  const newer = { ...entry(1), kind: "charge-started", v: 2 };
  const list = [
    entry(2),
    newer,
    { ...entry(3), body: "no object" },
    7,
    null,
    { ...entry(4), kind: "team-changed" },
    { ...entry(5), pack: "7K3QX9" },
    { ...entry(6), pack: "7K3QX8" },
  ];
  const { good, bad } = await lookThrough(list);
  expect(good).toEqual([entry(2), newer, { ...entry(5), pack: "7K3QX9" }]);
  expect(bad.map(({ reason }) => reason)).toEqual([
    "the note is empty",
    "the note is empty",
    "the note is empty",
    "the team's settings are not handed over",
    "the check character does not fit",
  ]);
});

test("what is taken over waits to be sent from here; twice makes no second copy", async () => {
  expect(await take([entry(10), entry(11)])).toBe(2);
  expect(await take([entry(11), entry(12)])).toBe(1);
  expect((await store.outbox()).map((row) => row.id)).toEqual([entry(10).id, entry(11).id, entry(12).id]);
  await store.settle([{ id: entry(10).id, taken: true, reason: "", hint: "" }]);
  expect(await take([entry(10)])).toBe(0); // the server has it: not to be sent again
  expect(await store.outbox()).toHaveLength(2);
});

test("what was handed over leaves the outbox and stays in the journal", async () => {
  await store.saveOwn([{ ...entry(20), kind: "team-changed" }]);
  const entries = await waiting();
  expect(entries.map((e) => e.id)).toEqual([entry(11).id, entry(12).id]); // settings do not travel
  await handedOver(entries);
  expect((await store.outbox()).map((row) => row.id)).toEqual([entry(20).id]);
  expect(await store.count()).toBe(4);
});

test("the encrypted address is found in the server's words", () => {
  expect(originIn('{"hint":"use https://pit.local:8443/ instead"}')).toBe("https://pit.local:8443");
  expect(originIn("https://pit.local")).toBe("https://pit.local");
  for (const text of ["", "http://pit.local", "https://", "pit.local", "javascript:alert(1)"]) expect(originIn(text), text).toBe("");
});
