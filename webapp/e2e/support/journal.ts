// The phone's journal as the browser stores it, and entries made without an app.

import type { Page } from "@playwright/test";
import type { Entry } from "./server";

const crockford = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/** entryAt is an entry as a phone would have made it at a time in unix ms. */
export function entryAt(ms: number, kind: string, pack: string, body: Entry["body"], device = "00000000000000aa"): Entry {
  return { id: ulid(ms), v: 1, kind, pack, device, by: "E2E", hlc: `${ms}-0000`, body };
}

/** notes makes n valid entries of one device, in causal order: notes on the fleet. */
export function notes(n: number, device?: string, from = Date.UTC(2026, 10, 20)): Entry[] {
  return Array.from({ length: n }, (_, i) => entryAt(from + i, "note", "", { text: `note ${i + 1} of ${n}` }, device));
}

/** packCodes is n valid codes: five characters and a check character by ISO/IEC 7064, MOD 37,36. */
export function packCodes(n: number): string[] {
  const characters = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
  const codes: string[] = [];
  for (let i = 0; codes.length < n; i++) {
    const body = "7K3Q" + crockford[i % 32];
    const product = [...body].reduce((p, character) => (((p + characters.indexOf(character)) % 36 || 36) * 2) % 37, 36);
    const check = characters[(37 - product) % 36]!;
    if (crockford.includes(check)) codes.push(body + check);
  }
  return codes;
}

/** ulid is a fresh identifier: 48 bits of time and 80 random ones in Crockford's base32. */
export function ulid(ms: number): string {
  let time = "";
  for (let left = ms, i = 0; i < 10; i++, left = Math.floor(left / 32)) time = crockford[left % 32] + time;
  return time + Array.from({ length: 16 }, () => crockford[Math.floor(Math.random() * 32)]).join("");
}

/** phoneEntries reads every entry that is stored on the phone. */
export async function phoneEntries(page: Page): Promise<Entry[]> {
  const rows = (await readAll(page, "entries")) as { entry: Entry }[];
  return rows.map((row) => row.entry);
}

/** outboxSize counts what the phone has still to send, refused entries among it. */
export async function outboxSize(page: Page): Promise<number> {
  return (await readAll(page, "outbox")).length;
}

/** draftOf reads a half-filled form as the phone stored it, or null. */
export async function draftOf(page: Page, key: string): Promise<unknown> {
  return (await readAll(page, "drafts", key))[0] ?? null;
}

/** prefOf reads a personal setting as the phone stored it, or null. */
export async function prefOf(page: Page, key: string): Promise<unknown> {
  return (await readAll(page, "prefs", key))[0] ?? null;
}

/** readAll reads a store of the phone's database, or the value under one key. A database that the app has not made yet is left alone. */
function readAll(page: Page, store: string, key?: string): Promise<unknown[]> {
  return page.evaluate(
    async ({ store, key }) => {
      if (!(await indexedDB.databases()).some((known) => known.name === "packwright")) return [];
      return new Promise<unknown[]>((done, failed) => {
        const opening = indexedDB.open("packwright");
        opening.onerror = () => failed(opening.error);
        opening.onsuccess = () => {
          const reading = opening.result.transaction(store).objectStore(store).getAll(key);
          reading.onerror = () => failed(reading.error);
          reading.onsuccess = () => {
            opening.result.close();
            done(reading.result);
          };
        };
      });
    },
    { store, key },
  );
}

/** leaveUnsent puts entries on the phone as if they had been made there, waiting to be sent. The app sees them when it starts. */
export async function leaveUnsent(page: Page, entries: Entry[]): Promise<void> {
  await page.evaluate(
    (made) =>
      new Promise<void>((done, failed) => {
        const opening = indexedDB.open("packwright");
        opening.onerror = () => failed(opening.error);
        opening.onsuccess = () => {
          const db = opening.result;
          const tx = db.transaction(["entries", "outbox"], "readwrite");
          for (const entry of made) {
            tx.objectStore("entries").put({ id: entry.id, entry });
            tx.objectStore("outbox").put({ id: entry.id, state: "waiting", reason: "", hint: "" });
          }
          tx.oncomplete = () => {
            db.close();
            done();
          };
          tx.onabort = () => failed(tx.error);
        };
      }),
    entries,
  );
}
