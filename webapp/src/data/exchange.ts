// One exchange with the server: send the outbox, follow the server's sequence,
// and after a reset offer everything held. When it happens is up to sync.ts.

import type { Entry } from "../core/types";
import { type API, Later, type PushResult, Rejected } from "./api";
import type { Store, Verdict } from "./store";

const BATCH_ENTRIES = 200;
const BATCH_BYTES = 512 * 1024;
const PAGE_ENTRIES = 500;
const OFFER_IDS = 1000;
const PASSES = 4; // of send, follow, offer in one exchange

/** What the exchange tells the rest of the app. */
export interface Listener {
  added(entries: Entry[]): Promise<void>; // stored, new here
  outboxChanged(): Promise<void>;
}

/** Exchange is one round of talk with the server over one store. */
export class Exchange {
  #store: Store;
  #api: API;
  #tell: Listener;

  constructor(store: Store, api: API, tell: Listener) {
    this.#store = store;
    this.#api = api;
    this.#tell = tell;
  }

  /** run sends and fetches everything there is; it throws Later where it had to stop. Nothing is lost then. */
  async run(): Promise<void> {
    for (let pass = 0; pass < PASSES; pass++) {
      const stuck = await this.#push().then(() => null, unlessAnswered);
      await this.#pull(); // a server that takes nothing, its disk being full, still gives
      if (stuck) throw stuck;
      if (!(await this.#store.progress()).offer) return;
      if (!(await this.#offer())) return;
    }
    throw new Later("the server keeps starting over", true, 60_000);
  }

  /** push sends what waits, each entry at most once in this round; voids last: a server may not take one before what it voids. */
  async #push(): Promise<void> {
    const rows = (await this.#store.outbox()).filter((row) => row.state === "waiting");
    const waiting = rows.map((row) => row.id);
    const offered = new Set(rows.filter((row) => row.offered).map((row) => row.id));
    const device = await this.#store.device();
    const ours = (entry: Entry) => entry.device === device || !offered.has(entry.id);
    let unanswered = 0;
    for (const voids of [false, true]) {
      unanswered += await this.#sendThose(waiting, (entry) => (entry.kind === "voided") === voids, ours);
    }
    if (unanswered > 0) throw new Later(`the server did not answer for ${unanswered} entries`, true);
  }

  /** sendThose sends the chosen ones of ids, and gives how many got no verdict. */
  async #sendThose(ids: string[], chosen: (entry: Entry) => boolean, ours: (entry: Entry) => boolean): Promise<number> {
    let unanswered = 0;
    for (let at = 0; at < ids.length; ) {
      const entries = (await this.#store.entries(ids.slice(at, at + BATCH_ENTRIES))).filter(chosen);
      const batch = takeBatch(entries, ours);
      const next = entries[batch.length]; // did not fit
      at = next ? ids.indexOf(next.id, at) : at + BATCH_ENTRIES;
      unanswered += await this.#send(batch);
    }
    return unanswered;
  }

  /** send gives how many of the batch got no verdict. A batch that is rejected as a whole is split until the culprit is alone. */
  async #send(batch: Outgoing[]): Promise<number> {
    if (batch.length === 0) return 0;
    try {
      const texts = batch.map((entry) => entry.text);
      const { results } = await this.#api.push(texts, await this.#store.device());
      return await this.#settle(batch, results.flatMap((result) => verdictOf(result, batch)));
    } catch (thrown) {
      if (!(thrown instanceof Rejected)) throw thrown;
      const [only] = batch;
      if (batch.length === 1 && only) {
        return this.#settle(batch, [{ id: only.id, taken: !only.ours, reason: thrown.text, hint: thrown.hint }]);
      }
      const middle = Math.ceil(batch.length / 2);
      return (await this.#send(batch.slice(0, middle))) + (await this.#send(batch.slice(middle)));
    }
  }

  async #settle(batch: Outgoing[], verdicts: Verdict[]): Promise<number> {
    const sent = new Set(batch.map((entry) => entry.id));
    const ours = new Map(verdicts.filter(({ id }) => sent.has(id)).map((verdict) => [verdict.id, verdict]));
    await this.#store.settle([...ours.values()]);
    await this.#tell.outboxChanged();
    return sent.size - ours.size;
  }

  /** pull follows the sequence to its end, from the beginning where the server says so. */
  async #pull(): Promise<void> {
    let resets = 0;
    for (;;) {
      const { epoch, cursor } = await this.#store.progress();
      const page = await this.#api.pull(epoch, cursor, PAGE_ENTRIES);
      if ("reset" in page) {
        if (++resets > 2) throw new Later("the server keeps starting over", true, 60_000);
        await this.#store.reset(page.epoch);
        continue;
      }
      if (page.next < cursor || (page.more && page.next === cursor)) {
        throw new Later("the server's pages do not move on", true, 60_000);
      }
      const entries = page.entries.map((item) => item.entry);
      const added = await this.#store.applyPage(page.epoch, cursor, page.next, entries);
      if (!added) throw new Later("another tab started over", true);
      await this.#tell.added(added);
      if (!page.more) return;
    }
  }

  /**
   * offer tells the server all that it confirmed under another epoch, and says
   * whether there is something to send. What it refused before counts as well: it
   * may be about entries that the server had lost.
   */
  async #offer(): Promise<boolean> {
    const { epoch } = await this.#store.progress();
    const held = await this.#store.confirmed();
    const refused = (await this.#store.outbox()).filter((row) => row.state === "refused").map((row) => row.id);
    await this.#store.sendAgain(refused);
    let wantedAny = refused.length > 0;
    for (let at = 0; at < held.length; at += OFFER_IDS) {
      const wanted = await this.#api.offer(held.slice(at, at + OFFER_IDS));
      if (wanted.length === 0) continue;
      wantedAny = true;
      await this.#store.sendAgain(wanted, true);
      await this.#tell.outboxChanged();
    }
    await this.#store.offered(epoch);
    return wantedAny;
  }
}

/** unlessAnswered passes on a Later from our server and throws everything else. */
function unlessAnswered(thrown: unknown): Later {
  if (thrown instanceof Later && thrown.answered) return thrown;
  throw thrown;
}

interface Outgoing {
  id: string;
  text: string; // JSON
  ours: boolean; // made or brought here; others are only offered after a reset
}

/** takeBatch takes as many of entries as fit, at least one. */
function takeBatch(entries: Entry[], ours: (entry: Entry) => boolean): Outgoing[] {
  const batch: Outgoing[] = [];
  let bytes = 0;
  for (const entry of entries) {
    const text = JSON.stringify(entry);
    bytes += new TextEncoder().encode(text).length;
    if (batch.length > 0 && bytes > BATCH_BYTES) break;
    batch.push({ id: entry.id, text, ours: ours(entry) });
  }
  return batch;
}

/**
 * verdictOf reads a result; a status this version does not know is no verdict.
 * What the server refuses of an offer of other devices' entries is not this
 * phone's matter: a lead's settings may not be brought back by a crew phone.
 * They stay in the journal and leave the outbox.
 */
function verdictOf({ index, id, status, reason = "", hint = "" }: PushResult, batch: Outgoing[]): Verdict[] {
  const about = id ? batch.find((entry) => entry.id === id) : batch[index];
  if (!about) return [];
  switch (status) {
    case "accepted":
    case "duplicate":
      return [{ id: about.id, taken: true, reason: "", hint: "" }];
    case "conflict":
    case "refused":
      return [{ id: about.id, taken: status === "refused" && !about.ours, reason: reason || "the server gave no reason", hint }];
  }
  return [];
}
