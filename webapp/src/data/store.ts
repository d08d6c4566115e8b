// What this phone holds: every entry it made or was given, the outbox, the
// place reached in the server's sequence, drafts and settings.

import type { Entry } from "../core/types";
import { Problem } from "../core/problem";
import { Database, type OutboxRow, type Progress } from "./db";
import type { Membership } from "./status";

const NOWHERE: Progress = { epoch: "", cursor: 0, offer: false };

// Kept so that a full phone can still save a few more entries: it is given up first.
const BALLAST_BYTES = 256 * 1024;

/** An entry's fate at the server. */
export interface Verdict {
  id: string;
  taken: boolean; // accepted, known already, or not this phone's to send
  reason: string;
  hint: string;
}

export class Store {
  readonly db: Database;

  constructor(name = "packwright") {
    this.db = new Database(name);
  }

  /** device is the id of this browser's storage: random, and new whenever the storage is. */
  device(): Promise<string> {
    const fresh = randomHex(8);
    return this.db.writeStrictly(["meta"], async (tx) => {
      const known = await tx.store.get("device");
      if (typeof known === "string") return known;
      await tx.store.put(fresh, "device");
      return fresh;
    });
  }

  /** saveOwn stores entries made here, to be sent; on the disk when it resolves. */
  async saveOwn(entries: Entry[]): Promise<void> {
    try {
      await this.#saveOwn(entries);
    } catch (thrown) {
      if (!(thrown instanceof Problem) || thrown.kind !== "no_space") throw thrown;
      await this.db.write(["meta"], (tx) => tx.store.delete("ballast"));
      await this.#saveOwn(entries);
    }
  }

  #saveOwn(entries: Entry[]): Promise<void> {
    return this.db.writeStrictly(["entries", "outbox"], async (tx) => {
      const puts = entries.flatMap((entry) => [
        tx.objectStore("entries").put({ id: entry.id, entry }),
        tx.objectStore("outbox").put({ id: entry.id, state: "waiting", reason: "", hint: "" }),
      ]);
      tx.commit(); // a tab frozen in the middle must not hold the others up
      await Promise.all(puts);
    });
  }

  /** keepBallast sets the reserve aside; call it when nothing is urgent. */
  async keepBallast(): Promise<void> {
    const ballast = new Uint8Array(BALLAST_BYTES);
    for (let at = 0; at < ballast.length; at += 65536) crypto.getRandomValues(ballast.subarray(at, at + 65536));
    await this.db.write(["meta"], async (tx) => {
      if (!(await tx.store.getKey("ballast"))) await tx.store.put(ballast, "ballast");
    });
  }

  /** eachBatch hands all entries held to work, at most size at a time. */
  async eachBatch(size: number, work: (entries: Entry[]) => Promise<void> | void): Promise<void> {
    let range: IDBKeyRange | undefined;
    for (;;) {
      const rows = await this.db.read(["entries"], (tx) => tx.store.getAll(range, size));
      const last = rows.at(-1);
      if (!last) return;
      await work(rows.map((row) => row.entry));
      range = IDBKeyRange.lowerBound(last.id, true);
    }
  }

  /** entries gives those of ids that are held, in the order of ids. */
  entries(ids: string[]): Promise<Entry[]> {
    return this.db.read(["entries"], async (tx) => {
      const rows = await Promise.all(ids.map((id) => tx.store.get(id)));
      return rows.flatMap((row) => (row ? [row.entry] : []));
    });
  }

  /** count is how many entries are held. */
  count(): Promise<number> {
    return this.db.read(["entries"], (tx) => tx.store.count());
  }

  /** outbox lists what the server has not confirmed, oldest first. */
  outbox(): Promise<OutboxRow[]> {
    return this.db.read(["outbox"], (tx) => tx.store.getAll());
  }

  /** settle notes the server's verdicts: only what was taken leaves the outbox. */
  settle(verdicts: Verdict[]): Promise<void> {
    return this.db.write(["outbox"], async (tx) => {
      await Promise.all(
        verdicts.map(async ({ id, taken, reason, hint }) => {
          if (taken) return tx.store.delete(id);
          await tx.store.put({ ...(await tx.store.get(id)), id, state: "refused", reason, hint });
        }),
      );
    });
  }

  /** sendAgain puts entries into the outbox, refused ones too; ids not held are left out. Offered are those a server lacks after a reset. */
  sendAgain(ids: string[], offered = false): Promise<void> {
    return this.db.write(["entries", "outbox"], async (tx) => {
      const outbox = tx.objectStore("outbox");
      const held = await Promise.all(ids.map((id) => tx.objectStore("entries").getKey(id)));
      await Promise.all(
        held.map(async (id) => {
          const mark = offered ? { offered } : await outbox.get(id ?? "");
          if (id) await outbox.put({ ...mark, id, state: "waiting", reason: "", hint: "" });
        }),
      );
    });
  }

  /** confirmed lists the ids of entries held that a server has taken: all but the outbox. */
  confirmed(): Promise<string[]> {
    return this.db.read(["entries", "outbox"], async (tx) => {
      const unsent = new Set(await tx.objectStore("outbox").getAllKeys());
      return (await tx.objectStore("entries").getAllKeys()).filter((id) => !unsent.has(id));
    });
  }

  /** progress is the place reached in the server's sequence. */
  async progress(): Promise<Progress> {
    return this.db.read(["meta"], async (tx) => ((await tx.store.get("progress")) as Progress | undefined) ?? NOWHERE);
  }

  /** reset starts again at the beginning of another sequence, with everything still to be offered. */
  reset(epoch: string): Promise<void> {
    return this.db.write(["meta"], async (tx) => {
      await tx.store.put({ epoch, cursor: 0, offer: true } satisfies Progress, "progress");
    });
  }

  /** offered notes that everything held was offered to this epoch. */
  offered(epoch: string): Promise<void> {
    return this.db.write(["meta"], async (tx) => {
      const now = (await tx.store.get("progress")) as Progress | undefined;
      if (now?.epoch === epoch) await tx.store.put({ ...now, offer: false }, "progress");
    });
  }

  /**
   * applyPage stores a page of the server's sequence together with the cursor
   * behind it, and gives the entries that were new here. It gives null and
   * stores nothing where the page does not join on to what is held: another tab
   * has begun another epoch or started again.
   */
  applyPage(epoch: string, after: number, next: number, entries: Entry[]): Promise<Entry[] | null> {
    return this.db.write(["entries", "meta"], async (tx) => {
      const held = tx.objectStore("entries");
      const now = ((await tx.objectStore("meta").get("progress")) as Progress | undefined) ?? NOWHERE;
      if ((now.epoch !== "" && now.epoch !== epoch) || after > now.cursor) return null;
      const known = await Promise.all(entries.map((entry) => held.getKey(entry.id)));
      const added = entries.filter((_, i) => known[i] === undefined);
      const progress: Progress = { ...now, epoch, cursor: Math.max(now.cursor, next) };
      await Promise.all([
        ...added.map((entry) => held.put({ id: entry.id, entry })),
        tx.objectStore("meta").put(progress, "progress"),
      ]);
      return added;
    });
  }

  /** lastSync is when everything was last exchanged, unix ms. */
  async lastSync(): Promise<number | null> {
    return this.db.read(["meta"], async (tx) => ((await tx.store.get("last-sync")) as number | undefined) ?? null);
  }

  /** saveLastSync never goes back. */
  saveLastSync(ms: number): Promise<void> {
    return this.db.write(["meta"], async (tx) => {
      const known = (await tx.store.get("last-sync")) as number | undefined;
      if (known === undefined || known < ms) await tx.store.put(ms, "last-sync");
    });
  }

  /** membership is who this device was in the server's list, or null. */
  membership(): Promise<Membership | null> {
    return this.db.read(["meta"], async (tx) => ((await tx.store.get("membership")) as Membership | undefined) ?? null);
  }

  /** saveMembership notes who this device is there; null after it left. */
  async saveMembership(who: Membership | null): Promise<void> {
    await this.db.write(["meta"], (tx) => (who ? tx.store.put(who, "membership").then(() => {}) : tx.store.delete("membership")));
  }

  /** draft gives what saveDraft kept, or undefined. */
  draft(key: string): Promise<unknown> {
    return this.db.read(["drafts"], (tx) => tx.store.get(key));
  }

  async saveDraft(key: string, value: unknown): Promise<void> {
    await this.db.write(["drafts"], (tx) => {
      const put = tx.store.put(value, key);
      tx.commit(); // without waiting for anything: the page may be going away
      return put;
    });
  }

  async dropDraft(key: string): Promise<void> {
    await this.db.write(["drafts"], (tx) => tx.store.delete(key));
  }

  /** prefs gives the saved settings by name. */
  prefs(): Promise<Record<string, unknown>> {
    return this.db.read(["prefs"], async (tx) => {
      const [keys, values] = await Promise.all([tx.store.getAllKeys(), tx.store.getAll()]);
      return Object.fromEntries(keys.map((key, i) => [key, values[i]]));
    });
  }

  async savePref(key: string, value: unknown): Promise<void> {
    await this.db.write(["prefs"], (tx) => tx.store.put(value, key));
  }
}

/** randomHex gives n random bytes as text; it works without a secure context. */
export function randomHex(n: number): string {
  return Array.from(crypto.getRandomValues(new Uint8Array(n)), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** store is the app's own. */
export const store = new Store();
