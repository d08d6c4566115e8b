import "fake-indexeddb/auto";
import { expect, test } from "@playwright/test";
import { core, type Call } from "../src/core/bridge";
import type { Entry } from "../src/core/types";
import { importDemo } from "../src/data/demo";
import { revision } from "../src/data/fleet";
import { exportFile, record } from "../src/data/journal";
import { refreshOutbox } from "../src/data/outbox";
import { refused, saveProblem, startProblem, unsent, unsentIds } from "../src/data/status";
import { store } from "../src/data/store";
import { CoreWorker, entry, Server } from "./fake";

test.describe.configure({ mode: "serial" }); // they share the app's own singletons, on a fake core and a fake server

const server = new Server();
const season = [entry(1001), entry(1002)];
let demo = () => new Response(season.map((e) => JSON.stringify(e)).join("\n") + "\n");
const commit = IDBTransaction.prototype.commit;
let made = 0;

function answer(name: string, request: { kind?: string; entries?: Entry[]; random?: number[] }, worker: CoreWorker): unknown {
  switch (name) {
    case "make-entry":
      if (request.kind === "nonsense") throw { kind: "invalid", text: "there is no such kind" };
      expect(request.random).toHaveLength(10);
      return { entry: { ...entry(++made), ...request, random: undefined, now_ms: undefined } };
    case "add-entries":
      for (const added of request.entries ?? []) {
        if (JSON.stringify(added.body).includes("boom") && worker === CoreWorker.all[0]) throw new Error("crashed");
        worker.entries.push(added);
      }
      return {};
  }
  return { packs: [], notes: [] };
}

test.beforeAll(async () => {
  CoreWorker.all = []; // another file's may be there, in the same process
  CoreWorker.answer = answer as never;
  Object.assign(globalThis, {
    Worker: CoreWorker,
    CORE_WORKER_URL: "core",
    fetch: (url: string, init?: RequestInit) => (url === "/demo.jsonl" ? demo() : server.fetch(url, init)),
  });
  await core.start((call: Call) => store.eachBatch(9, async (entries) => void (await call("add-entries", { entries }))));
});

test.afterEach(() => {
  IDBTransaction.prototype.commit = commit;
});

const inCore = () => CoreWorker.all.at(-1)!.entries.map((e) => e.id);

test("the demo season is refused while the server is out of reach or has trouble: it may keep real packs", async () => {
  const trouble: Partial<typeof server.faults>[] = [
    { health: ["down"] },
    { pull: ["down"] },
    { pull: [{ status: 503, body: "{}" }] },
    { health: [{ status: 200, body: "<html>sign in</html>" }] },
  ];
  for (const faults of trouble) {
    server.faults = structuredClone(faults);
    await expect(importDemo(), JSON.stringify(faults)).rejects.toMatchObject({ kind: "unreachable", text: expect.stringContaining("must be reached") });
    expect(await store.count()).toBe(0);
  }
});

test("the demo season goes into an empty journal, to be sent like any other", async () => {
  demo = () => new Response("<html>sign in</html>");
  await expect(importDemo()).rejects.toMatchObject({ kind: "unreachable" });
  expect(await store.count()).toBe(0);
  demo = () => new Response(season.map((e) => JSON.stringify(e)).join("\n") + "\n");
  await importDemo();
  expect(await store.count()).toBe(2);
  expect(inCore()).toEqual(season.map((e) => e.id));
  await expect(importDemo()).rejects.toMatchObject({ kind: "conflict" });
});

test("a recorded entry is on the phone, in the outbox and in the core when it is called saved", async () => {
  server.faults.health = Array.from({ length: 99 }, () => "down" as const);
  const before = revision.value;
  const saved = await record("note", "", { text: "on the bench" });
  expect(saved).toMatchObject({ kind: "note", by: "", device: await store.device(), body: { text: "on the bench" } });
  expect(await store.entries([saved.id])).toEqual([saved]);
  expect(unsentIds.value.has(saved.id)).toBe(true);
  expect(unsent.value).toBe(unsentIds.value.size);
  expect(inCore()).toContain(saved.id);
  expect(revision.value).toBeGreaterThan(before);
});

test("what the core refuses is not stored", async () => {
  const before = await store.count();
  await expect(record("nonsense", "", {})).rejects.toMatchObject({ kind: "invalid", text: "there is no such kind" });
  expect(await store.count()).toBe(before);
  expect(saveProblem.value).toBeNull();
});

test("a save that fails is said and rejected, and the next good one clears it", async () => {
  const before = [await store.count(), inCore().length];
  IDBTransaction.prototype.commit = function (this: IDBTransaction) {
    (this as unknown as { _abort(name: string): void })._abort("UnknownError");
  };
  await expect(record("note", "", { text: "lost" })).rejects.toMatchObject({ name: "Problem" });
  expect(saveProblem.value).toContain("not saved");
  expect([await store.count(), inCore().length]).toEqual(before);
  IDBTransaction.prototype.commit = commit;
  await record("note", "", { text: "kept" });
  expect(saveProblem.value).toBeNull();
});

test("a core that crashes on a saved entry does not unsave it", async () => {
  const saved = await record("note", "", { text: "boom" });
  expect(await store.entries([saved.id])).toEqual([saved]);
  expect(CoreWorker.all).toHaveLength(2);
  expect(startProblem.value).toBeNull();
  expect(inCore()).toContain(saved.id); // the new core has it from the store
});

test("the export holds every entry, unsent and refused ones too, one a line", async () => {
  await store.settle([{ id: season[0]!.id, taken: false, reason: "no", hint: "" }]);
  await refreshOutbox();
  expect(refused.value).toEqual([{ entry: season[0], reason: "no", hint: "" }]);
  const lines = (await (await exportFile()).text()).split("\n");
  expect(lines.pop()).toBe("");
  expect(lines.map((line) => JSON.parse(line).id)).toEqual(expect.arrayContaining(season.map((e) => e.id)));
  expect(lines).toHaveLength(await store.count());
});
