// When to exchange with the server, and by which tab.
//
// A round runs at start, after each entry, when the app comes to the foreground,
// on the browser's "online" event, on the live stream's word, by a timer and on
// demand. One tab at a time runs it; if that tab hangs (phones freeze hidden
// tabs), another goes ahead after a while: the server and the store bear it.

import { asProblem } from "../core/problem";
import { admit, turnedAway } from "./access";
import { type API, api, type ClockReading, Later, NotJoined, TooOld } from "./api";
import { Exchange, type Listener } from "./exchange";
import { addToFleet } from "./fleet";
import { refreshOutbox } from "./outbox";
import { clockOffsetMS, lastSync, reachable, ready, serverAddress, syncing, syncProblem, tier, tooOld, unsent, welcomePage, wiped } from "./status";
import { type Store, store } from "./store";
import { tellTabs } from "./tabs";

const LOCK = "packwright-sync";
const LOCK_PATIENCE_MS = 4_000; // then a round goes ahead without the lock: the other tab may be frozen
const LOCK_RETRY_MS = 1000;
const PROBE_MS = 1500;
const PROBE_MOST_MS = 12_000; // on a bad network the probe gets more patient
const IDLE_MS = 60_000; // between rounds when all is well
const BACKOFF_MS = 2000; // doubles with each failure
const BACKOFF_MOST_MS = 300_000;

/** What a Syncer needs from its surroundings. */
export interface Surroundings {
  store: Store;
  api: API;
  tell: Listener;
  allowed(): boolean; // false: there is no talking to a server at all
  locks: Pick<LockManager, "request"> | undefined;
  now(): number; // unix ms
  random(): number; // 0 to 1
  after(ms: number, run: () => void): () => void; // gives the cancel
}

/** Syncer decides when a round runs. */
export class Syncer {
  #around: Surroundings;
  #exchange: Exchange;
  #running: Promise<boolean> | null = null;
  #again = false;
  #failures = 0;
  #notBefore = 0; // the server asked for patience until then
  #lockedOutSince: number | null = null;
  #cancelTimer = () => {};
  #bestClock: ClockReading | null = null;

  constructor(around: Surroundings) {
    this.#around = around;
    around.api.onClock = (reading) => this.#hearClock(reading);
    this.#exchange = new Exchange(around.store, around.api, around.tell);
  }

  /**
   * sync runs a round now, whatever the timer says; calls made during a round
   * share the next one. It never rejects: it says whether the last round went
   * through, with everything sent that the server takes and its sequence
   * followed to the end.
   */
  sync(): Promise<boolean> {
    if (!this.#around.allowed()) return Promise.resolve(false);
    this.#again = true;
    this.#running ??= this.#rounds();
    return this.#running;
  }

  /** nudge is sync for an event of the phone: it respects a server that asked for patience. */
  nudge(): void {
    if (this.#around.now() >= this.#notBefore) void this.sync();
  }

  async #rounds(): Promise<boolean> {
    this.#cancelTimer();
    try {
      let through = false;
      while (this.#again) {
        this.#again = false;
        through = await this.#round();
      }
      return through;
    } finally {
      this.#running = null;
    }
  }

  async #round(): Promise<boolean> {
    try {
      const through = await this.#alone(() => this.#talk());
      if (through) this.#failures = 0;
      this.#wait(through ? IDLE_MS : LOCK_RETRY_MS); // or another tab is at it
      return through;
    } catch (thrown) {
      this.#failed(thrown);
      return false;
    }
  }

  async #talk(): Promise<void> {
    const { api, store, now } = this.#around;
    const standing = await api.health(Math.min(PROBE_MS * 2 ** this.#failures, PROBE_MOST_MS));
    reachable.value = true;
    tooOld.value = false;
    welcomePage.value = standing.welcome ?? "";
    serverAddress.value = standing.address ?? "";
    await admit(standing, api, store);
    syncing.value = true; // not while it only probes: without a server the display would flicker
    try {
      await this.#exchange.run();
    } finally {
      syncing.value = false;
    }
    syncProblem.value = null;
    lastSync.value = now();
    await store.saveLastSync(lastSync.value);
    tellTabs({ synced: lastSync.value });
  }

  #failed(thrown: unknown): void {
    const { now, random } = this.#around;
    const problem = asProblem(thrown);
    let atLeast = 0;
    if (thrown instanceof TooOld) tooOld.value = true;
    if (thrown instanceof NotJoined) {
      reachable.value = true;
      syncProblem.value = null; // the lamp says what it is
      turnedAway(thrown, this.#around.store);
      this.#failures = 0;
      return this.#wait(IDLE_MS);
    }
    if (thrown instanceof Later) {
      reachable.value = thrown.answered;
      syncProblem.value = thrown.answered || thrown.hint ? [problem.text, problem.hint].filter(Boolean).join(": ") : null;
      atLeast = thrown.retryAfterMS;
      this.#notBefore = now() + atLeast;
    } else {
      syncProblem.value = problem.text;
    }
    const backoff = Math.min(BACKOFF_MS * 2 ** this.#failures, BACKOFF_MOST_MS);
    this.#failures++;
    this.#wait(Math.max(atLeast, backoff * (0.5 + random() / 2)));
  }

  #wait(ms: number): void {
    this.#cancelTimer();
    this.#cancelTimer = this.#around.after(ms, () => void this.sync());
  }

  /** alone runs work while no other tab does, and says whether it ran. */
  async #alone(work: () => Promise<void>): Promise<boolean> {
    const { locks, now } = this.#around;
    const tired = this.#lockedOutSince !== null && now() - this.#lockedOutSince > LOCK_PATIENCE_MS;
    if (!locks || tired) {
      this.#lockedOutSince = null;
      await work();
      return true;
    }
    return await locks.request(LOCK, { ifAvailable: true }, async (lock) => {
      if (!lock) {
        this.#lockedOutSince ??= now();
        return false;
      }
      this.#lockedOutSince = null;
      await work();
      return true;
    });
  }

  /** The reading with the shortest way there and back is the best; an old one gives way. */
  #hearClock(reading: ClockReading): void {
    if (this.#bestClock && reading.roundTripMS > this.#bestClock.roundTripMS + 50) {
      this.#bestClock.roundTripMS += 10;
      return;
    }
    this.#bestClock = { ...reading };
    clockOffsetMS.value = reading.offsetMS;
  }
}

const syncer = new Syncer({
  store,
  api,
  tell: {
    async added(entries) {
      if (entries.length === 0) return;
      await addToFleet(entries);
      tellTabs({ added: entries.map((entry) => entry.id) });
    },
    async outboxChanged() {
      await refreshOutbox();
      tellTabs({ outbox: true });
    },
  },
  allowed: () => tier.value !== "plain" && !wiped.value,
  locks: globalThis.navigator?.locks, // absent over plain http
  now: Date.now,
  random: Math.random,
  after(ms, run) {
    const timer = setTimeout(run, ms);
    return () => clearTimeout(timer);
  },
});

api.unsent = () => (ready.value === "ready" ? unsent.value : null);

/** syncNow exchanges everything with the server; it resolves when the round is over and says whether it went through. */
export function syncNow(): Promise<boolean> {
  return syncer.sync();
}

/** nudgeSync is syncNow for events: it lets a busy server rest. */
export function nudgeSync(): void {
  syncer.nudge();
}

/** sendAgain puts refused entries back into the outbox and sends it: the server may have been updated. */
export async function sendAgain(ids: string[]): Promise<void> {
  await store.sendAgain(ids);
  await refreshOutbox();
  await syncNow();
}
