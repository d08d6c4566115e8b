// The page's side of the core: typed calls to the worker that runs the Go code.
//
// The worker may crash, and then forgets everything. The bridge rejects the
// calls that were under way, starts another worker, gives it the journal again
// and only then lets new calls through, so callers never see an empty fleet.
// A worker that is only exchanged for another answers what it was asked first;
// one that owes answers and stays silent is taken for a crashed one.

import { Problem } from "./problem";
import { type FromWorker, LOADED, type ToWorker } from "./protocol";
import type { Calls } from "./types";

export { asProblem, Problem, type ProblemKind } from "./problem";

export type CallName = keyof Calls;

/** One call to the core; see internal/core for what each name does. */
export type Call = <N extends CallName>(name: N, request: Calls[N]["request"]) => Promise<Calls[N]["answer"]>;

/** The part of Worker that the bridge uses. */
export type CoreWorker = Pick<Worker, "postMessage" | "terminate" | "onmessage" | "onerror">;

interface Pending {
  resolve(answer: never): void;
  reject(reason: unknown): void;
}

/** Crash rejects the calls that a crash interrupted. */
export class Crash extends Problem {
  constructor(readonly why: string) {
    super("internal", `the calculation stopped (${why}) and is started again`, "try once more");
  }
}

const RESTARTS = 3; // in RESTART_WINDOW_MS; then the core is given up
const RESTART_WINDOW_MS = 60_000;
const PAUSE_MS = 300; // before another try; doubles, as the network may be at fault
const TURN_MS = 5_000;
const SILENT_TURNS = 12; // a minute: many times what the longest call takes

/** Bridge owns one worker at a time. */
export class Bridge {
  #spawn: () => CoreWorker;
  #now: () => number;
  #pause: (ms: number) => Promise<void>;
  #feed: (call: Call) => Promise<void> = async () => {};
  #worker: CoreWorker | null = null;
  #pending = new Map<number, Pending>();
  #lastID = 0;
  #drained: () => void = () => {};
  #crashes: number[] = [];
  #silent = 0; // turns for which the worker has owed an answer
  #stale = false; // the journal has lost entries since the worker was given it
  #booting = true; // calls wait for #fed
  #fed: Promise<void>;
  #release: (fed: Promise<void>) => void = () => {};

  constructor(spawn: () => CoreWorker, now = Date.now, pause = sleep) {
    this.#spawn = spawn;
    this.#now = now;
    this.#pause = pause;
    this.#fed = new Promise((resolve) => (this.#release = resolve));
  }

  /** start runs the first worker; feed gives every new worker the journal. Calls made earlier wait for it. */
  start(feed: (call: Call) => Promise<void>): Promise<void> {
    this.#feed = feed;
    this.#release(this.#boot());
    return this.#fed;
  }

  /** call asks the core; it rejects with a Problem. */
  readonly call: Call = async (name, request) => {
    let fed;
    do await (fed = this.#fed);
    while (fed !== this.#fed); // another start has begun since
    return this.#post(name, request);
  };

  /**
   * renew gives another worker the journal as it is now: entries were taken out of it. Calls under way are answered first, later
   * ones wait; both end with a Problem where a worker stays silent.
   */
  renew(): Promise<void> {
    this.#stale = true;
    if (!this.#booting) this.#reboot();
    return this.#fed;
  }

  /** stop ends the worker for good, in the middle of a call too: what is under way is rejected. */
  stop(): void {
    const worker = this.#worker;
    this.#spawn = () => {
      throw new Problem("internal", "the calculation was ended");
    };
    if (worker) this.#crashed(worker, "ended");
  }

  #reboot(): void {
    this.#fed = this.#boot();
    this.#fed.catch(() => {}); // every later call reports it
  }

  async #boot(): Promise<void> {
    this.#booting = true;
    this.#silent = 0;
    const watch = setInterval(() => this.#watch(), TURN_MS);
    let failed = 0; // of these starts; a silent one takes as long as the window
    try {
      for (;;) {
        try {
          await this.#retire();
          await this.#load();
          this.#stale = false;
          await this.#feed(this.#post);
          if (!this.#stale) return;
        } catch (thrown) {
          if (!(thrown instanceof Crash)) throw thrown;
          if (++failed > RESTARTS || this.#crashes.length > RESTARTS) {
            throw new Problem("internal", `the calculation does not start (${thrown.why})`, "export the journal, then reload the app");
          }
          await this.#pause(PAUSE_MS * 2 ** (this.#crashes.length - 1));
        }
      }
    } finally {
      clearInterval(watch);
      this.#booting = false;
    }
  }

  /** watch gives up a worker that has been silent for too long. It counts turns, not time: a device that sleeps has none. */
  #watch(): void {
    const fetching = this.#pending.has(LOADED); // takes as long as the network does
    this.#silent = this.#worker && this.#pending.size > 0 && !fetching ? this.#silent + 1 : 0;
    if (this.#worker && this.#silent >= SILENT_TURNS) this.#crashed(this.#worker, "no answer for a minute");
  }

  /** retire ends the worker, if there is one, once it has answered every call. */
  async #retire(): Promise<void> {
    if (this.#pending.size > 0) await new Promise<void>((resolve) => (this.#drained = resolve));
    this.#worker?.terminate();
    this.#worker = null;
  }

  /** load starts a worker and waits until it has its core. */
  #load(): Promise<void> {
    const worker = this.#spawn();
    worker.onmessage = (event: MessageEvent<FromWorker>) => this.#receive(worker, event.data);
    worker.onerror = (event: ErrorEvent) => this.#crashed(worker, event.message || "the worker could not be loaded");
    this.#worker = worker;
    return new Promise((resolve, reject) => this.#pending.set(LOADED, { resolve, reject }));
  }

  readonly #post: Call = (name, request) =>
    new Promise((resolve, reject) => {
      if (!this.#worker) return reject(new Crash("no worker"));
      const id = ++this.#lastID;
      this.#pending.set(id, { resolve, reject });
      this.#worker.postMessage({ id, name, request: JSON.stringify(request) } satisfies ToWorker);
    });

  #receive(from: CoreWorker, message: FromWorker): void {
    if ("crash" in message) return this.#crashed(from, message.crash);
    this.#silent = 0;
    const pending = this.#pending.get(message.id);
    this.#pending.delete(message.id);
    if ("answer" in message) {
      pending?.resolve(JSON.parse(message.answer) as never);
    } else {
      const { kind, text, hint, field } = message.problem;
      pending?.reject(new Problem(kind, text, hint, field));
    }
    if (this.#pending.size === 0) this.#drained();
  }

  #crashed(from: CoreWorker, why: string): void {
    if (from !== this.#worker) return;
    from.terminate();
    this.#worker = null;
    this.#silent = 0;
    const now = this.#now();
    this.#crashes = [...this.#crashes.filter((at) => now - at < RESTART_WINDOW_MS), now];
    const interrupted = [...this.#pending.values()];
    this.#pending.clear();
    this.#drained();
    if (!this.#booting) this.#reboot();
    for (const call of interrupted) call.reject(new Crash(why));
  }
}

function sleep(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

/** The app's core. */
export const core = new Bridge(() => new Worker(CORE_WORKER_URL));

/** call asks the app's core. */
export const call: Call = core.call;
