// The phone's database: schema, connection, transactions.
//
// A request that succeeded is not yet saved: only a completed transaction is.
// Every write here resolves on completion and rejects with a Problem on abort.
// A lost connection (a known fault of some phones) is opened anew.

import { type DBSchema, type IDBPDatabase, type IDBPTransaction, openDB, type StoreNames } from "idb";
import { Problem } from "../core/problem";
import type { Entry } from "../core/types";

/** What an entry in the outbox waits for. */
export interface OutboxRow {
  id: string; // of the entry
  state: "waiting" | "refused"; // refused: the server would not take it
  reason: string;
  hint: string;
  offered?: true; // held after a reset of the server, which lacked it
}

/** How far this phone has followed one server. */
export interface Progress {
  epoch: string; // random id of the server's sequence; empty before the first contact
  cursor: number; // last sequence number applied
  offer: boolean; // after a reset: everything held has yet to be offered
}

/** The outbox is never altered by a later version: unsent entries must survive every upgrade. */
export interface Schema extends DBSchema {
  entries: { key: string; value: { id: string; entry: Entry } };
  outbox: { key: string; value: OutboxRow };
  meta: { key: string; value: unknown };
  drafts: { key: string; value: unknown };
  prefs: { key: string; value: unknown };
}

export type Stores = StoreNames<Schema>;
export type Transaction<S extends Stores[], M extends IDBTransactionMode> = IDBPTransaction<Schema, S, M>;

const VERSION = 1;
const REOPENINGS = 2; // before a lost connection is reported

/** Database holds one connection and opens it when it is first used. */
export class Database {
  readonly name: string;
  #connection: Promise<IDBPDatabase<Schema>> | null = null;
  #ended = false;

  /** onBlocked hears of another tab that keeps the database from opening, and null once it is open. */
  onBlocked: (text: string | null) => void = () => {};

  constructor(name: string) {
    this.name = name;
  }

  /** read runs work in a read-only transaction. */
  read<S extends Stores[], T>(stores: [...S], work: (tx: Transaction<S, "readonly">) => Promise<T>): Promise<T> {
    return this.#transact(stores, "readonly", "default", work);
  }

  /** write runs work in one transaction and resolves when it has completed. */
  write<S extends Stores[], T>(stores: [...S], work: (tx: Transaction<S, "readwrite">) => Promise<T>): Promise<T> {
    return this.#transact(stores, "readwrite", "default", work);
  }

  /** writeStrictly is write with the data on disk, not only handed to the system, before it resolves. */
  writeStrictly<S extends Stores[], T>(stores: [...S], work: (tx: Transaction<S, "readwrite">) => Promise<T>): Promise<T> {
    return this.#transact(stores, "readwrite", "strict", work);
  }

  /** close gives the connection up; the next use opens another. */
  async close(): Promise<void> {
    const connection = this.#connection;
    this.#connection = null;
    await connection?.then((db) => db.close(), () => {});
  }

  /** end closes the database for good: nothing in this tab opens it again. */
  async end(): Promise<void> {
    this.#ended = true;
    await this.close();
  }

  // Running work twice is safe: every write of the app is idempotent.
  async #transact<S extends Stores[], M extends "readonly" | "readwrite", T>(
    stores: [...S],
    mode: M,
    durability: IDBTransactionDurability,
    work: (tx: Transaction<S, M>) => Promise<T>,
  ): Promise<T> {
    for (let reopened = 0; ; reopened++) {
      if (this.#ended) throw new Problem("not_found", "this device was wiped", "open packwright anew to start afresh");
      const connection = (this.#connection ??= this.#open());
      let opened = false;
      try {
        const db = await connection;
        opened = true;
        return await finish(begin(db, stores, mode, durability), work);
      } catch (thrown) {
        if (this.#connection === connection) await this.close();
        if (!connectionLost(thrown) || reopened >= REOPENINGS) throw storageProblem(thrown, opened);
      }
    }
  }

  async #open(): Promise<IDBPDatabase<Schema>> {
    const db = await openDB<Schema>(this.name, VERSION, {
      upgrade(db) {
        db.createObjectStore("entries", { keyPath: "id" });
        db.createObjectStore("outbox", { keyPath: "id" });
        db.createObjectStore("meta");
        db.createObjectStore("drafts");
        db.createObjectStore("prefs");
      },
      blocked: () => this.onBlocked("an older version of packwright is open in another tab: close it there"),
      blocking: () => void this.close(), // another tab upgrades: make room
      terminated: () => void this.close(),
    });
    this.onBlocked(null);
    return db;
  }
}

/** begin starts a transaction. A browser that does not know strict durability still saves: with its own. */
function begin<S extends Stores[], M extends "readonly" | "readwrite">(
  db: IDBPDatabase<Schema>,
  stores: [...S],
  mode: M,
  durability: IDBTransactionDurability,
): Transaction<S, M> {
  try {
    return db.transaction<S, M>(stores, mode, { durability });
  } catch (thrown) {
    if (!(thrown instanceof TypeError)) throw thrown;
    return db.transaction<S, M>(stores, mode);
  }
}

/** finish runs work in tx and waits for the transaction itself. */
async function finish<S extends Stores[], M extends "readonly" | "readwrite", T>(
  tx: Transaction<S, M>,
  work: (tx: Transaction<S, M>) => Promise<T>,
): Promise<T> {
  let fault: unknown = null;
  const result = work(tx).catch((thrown) => {
    fault = thrown;
    try {
      tx.abort(); // half of the work must not stay
    } catch {
      // it has aborted already
    }
    throw thrown;
  });
  result.catch(() => {}); // reported below
  try {
    await tx.done; // not the requests: on a full disk some browsers settle none of them
  } catch (thrown) {
    throw tx.error ?? fault ?? thrown;
  }
  return result;
}

function connectionLost(thrown: unknown): boolean {
  if (!(thrown instanceof Error)) return false;
  return thrown.name === "InvalidStateError" || /connection.*(lost|clos)/i.test(thrown.message);
}

function storageProblem(thrown: unknown, opened: boolean): Problem {
  if (thrown instanceof Problem) return thrown;
  const { name, message } = thrown instanceof Error ? thrown : new Error(String(thrown));
  switch (name) {
    case "QuotaExceededError":
      return new Problem("no_space", "there is no room left on this device", "export the journal, free some space and try again");
    case "VersionError":
      return new Problem("unsupported", "a newer version of packwright has been open on this device", "reload the app to get that version");
  }
  if (!opened) {
    return new Problem(
      "internal",
      `this device's storage cannot be opened (${name}: ${message})`,
      "private windows and browsers told to keep nothing do this: open packwright in an ordinary window or another browser, and write readings on paper until then",
    );
  }
  return new Problem("internal", `this device's storage failed (${name}: ${message})`, "export the journal, then close and reopen the app");
}
