// Deleting everything that packwright keeps in this browser.

import { asProblem, Problem } from "../core/problem";
import { leave } from "./devices";
import { access, membership, wiped } from "./status";
import { store } from "./store";
import { tellTabs } from "./tabs";

/**
 * wipe signs this device out and deletes database, service worker and the app's
 * files, whether or not there are unsent entries. It gives what could not be
 * done, in words; the app in every open tab has come to its end after it.
 */
export async function wipe(): Promise<string[]> {
  const left: string[] = [];
  const attempt = async (fault: string, work: () => Promise<unknown>) => {
    try {
      await work();
    } catch (thrown) {
      const { text, hint } = asProblem(thrown);
      left.push(`${fault}: ${[text, hint].filter(Boolean).join(", ")}`);
    }
  };
  if (membership.value && access.value !== "signed-out") {
    await attempt("the server was not told, so a lead should take this device off the list", leave);
  }
  wiped.value = true; // from here on nothing talks to a server
  tellTabs({ wiped: true });
  await attempt("the journal was not deleted", () => deleteDatabase());
  await attempt("the app's files were not deleted", deleteFiles);
  return left;
}

const PATIENCE_MS = 5000; // other tabs let go at once unless they are frozen

/** deleteDatabase closes the database for good and deletes it; it rejects where another tab holds on to it. */
async function deleteDatabase(): Promise<void> {
  await store.db.end();
  await new Promise<void>((done, failed) => {
    const deleting = indexedDB.deleteDatabase(store.db.name);
    deleting.onsuccess = () => done();
    deleting.onerror = () => failed(deleting.error);
    setTimeout(() => failed(new Problem("in_use", "another tab of packwright is still open", "close it and try again")), PATIENCE_MS);
  });
}

/** deleteFiles removes the service worker and what it keeps; over plain http there is none. */
async function deleteFiles(): Promise<void> {
  const workers = (await navigator.serviceWorker?.getRegistrations()) ?? [];
  await Promise.all(workers.map((worker) => worker.unregister()));
  const names = (await globalThis.caches?.keys()) ?? [];
  await Promise.all(names.map((name) => caches.delete(name)));
}
