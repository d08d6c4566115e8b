import "fake-indexeddb/auto";
import { expect, test } from "@playwright/test";
import { deleteRefused } from "../src/data/discard";
import { Store } from "../src/data/store";
import { entry, freshName } from "./fake";

test("only what the server refused can be deleted, and all of it goes", async () => {
  const store = new Store(freshName());
  const [refused, waiting, sent] = [entry(1), entry(2), entry(3)];
  await store.saveOwn([refused, waiting, sent]);
  await store.settle([
    { id: refused.id, taken: false, reason: "only a lead may do this", hint: "" },
    { id: sent.id, taken: true, reason: "", hint: "" },
  ]);
  for (const { id } of [waiting, sent, entry(4)]) expect(await deleteRefused(store, id)).toBe(false);
  expect(await store.count()).toBe(3);
  expect(await deleteRefused(store, refused.id)).toBe(true);
  expect(await deleteRefused(store, refused.id)).toBe(false);
  expect(await store.entries([refused.id, waiting.id, sent.id])).toEqual([waiting, sent]);
  expect((await store.outbox()).map((row) => row.id)).toEqual([waiting.id]);
});
