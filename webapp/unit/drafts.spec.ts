import "fake-indexeddb/auto";
import { expect, test } from "@playwright/test";
import { dropDraft, flushDrafts, loadDraft, saveDraft } from "../src/data/drafts";
import { saveProblem } from "../src/data/status";
import { store } from "../src/data/store";

const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

test("a draft is written a moment after the last keystroke, once", async () => {
  let writes = 0;
  const save = store.saveDraft;
  store.saveDraft = (...draft) => (writes++, save.apply(store, draft));
  for (const text of ["1", "12", "12.8", "12.84"]) {
    saveDraft("test/7K3QX9", { open: text });
    await pause(20);
  }
  expect(await store.draft("test/7K3QX9")).toBeUndefined();
  await pause(400);
  expect(await store.draft("test/7K3QX9")).toEqual({ open: "12.84" });
  expect(writes).toBe(1);
  store.saveDraft = save;
});

test("what was typed last is loaded even before it is written", async () => {
  saveDraft("a", "typed");
  expect(await loadDraft("a")).toBe("typed");
  await flushDrafts();
  expect(await loadDraft("a")).toBe("typed");
  expect(await loadDraft("never")).toBeNull();
});

test("going away writes at once", async () => {
  saveDraft("b", { volts: ["12,84"] });
  await flushDrafts();
  expect(await store.draft("b")).toEqual({ volts: ["12,84"] });
});

test("a dropped draft does not come back", async () => {
  saveDraft("c", "typed");
  await flushDrafts();
  saveDraft("c", "typed more");
  await dropDraft("c");
  await pause(400);
  expect(await loadDraft("c")).toBeNull();
});

test("drafts have keys of their own", async () => {
  saveDraft("d1", 1);
  saveDraft("d2", 2);
  await dropDraft("d1");
  await flushDrafts();
  expect([await loadDraft("d1"), await loadDraft("d2")]).toEqual([null, 2]);
});

test("a draft that cannot be saved is said", async () => {
  const save = store.saveDraft;
  store.saveDraft = () => Promise.reject(new Error("no room"));
  saveDraft("e", 1);
  await flushDrafts();
  expect(saveProblem.value).toContain("no room");
  store.saveDraft = save;
  saveDraft("e", 2);
  await flushDrafts();
  expect(saveProblem.value).toBeNull();
});
