import { expect, test } from "@playwright/test";
import { readPersisted } from "../src/data/persist";
import { persisted } from "../src/data/status";

test.afterEach(() => void Reflect.deleteProperty(globalThis, "navigator"));

const browser = (storage: object | undefined) => Object.defineProperty(globalThis, "navigator", { value: { storage }, configurable: true });

const answers: [browser: string, storage: object | undefined, kept: boolean][] = [
  ["promised", { persisted: async () => true }, true],
  ["did not promise", { persisted: async () => false }, false],
  ["fails", { persisted: () => Promise.reject(new TypeError("not here")) }, false],
  ["throws", {}, false],
  ["has no storage manager, as over plain http", undefined, false],
];
for (const [what, storage, kept] of answers) {
  test(`storage is called kept only where the browser says so: it ${what}`, async () => {
    persisted.value = null;
    browser(storage);
    await readPersisted();
    expect(persisted.value).toBe(kept);
  });
}
