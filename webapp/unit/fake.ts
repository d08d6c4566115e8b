// Stand-ins for what surrounds the data layer: a server, locks, a core worker.

import { type FromWorker, LOADED, type ToWorker } from "../src/core/protocol";
import type { Entry } from "../src/core/types";

/** entry makes a valid note, the nth of one phone. */
export function entry(n: number, body: unknown = { text: `note ${n}` }): Entry {
  const digits = String(n).padStart(16, "0");
  const hlc = `${1_764_000_000_000 + n}-0000`;
  return { id: `01KAXEB000${digits}`, v: 1, kind: "note", pack: "", device: "d1", by: "AB", hlc, body } as Entry;
}

let stores = 0;

/** freshName is a database name that no other test uses. */
export function freshName(): string {
  return `test-${++stores}-${process.pid}`;
}

/** What a request meets instead of the server's answer; pass answers as usual. */
export type Fault =
  | "pass"
  | "down" // the network fails, the server never sees it
  | "lost" // the server does it, its answer gets lost
  | { status: number; body: string; headers?: Record<string, string> };

export function problemBody(text: string): string {
  return JSON.stringify({ problem: { kind: "invalid", text }, now_ms: 0 });
}

/**
 * Server is a scripted stand-in with the API of the real one. Requests take the
 * next fault of their route; without one they are answered.
 */
export class Server {
  epoch = "E1";
  log: Entry[] = []; // in order of sequence, from 1
  pageSize = 1000;
  now = () => Date.now();
  requests: string[] = [];
  unsentTold: (string | null)[] = []; // the header of each request
  apiTold = new Set<string | null>(); // likewise
  api = 1;
  minClient = 1; // of health alone
  faults: Partial<Record<"health" | "me" | "push" | "pull" | "offer", Fault[]>> = {};

  /** What health says of the welcome page; undefined: an older server's silence. */
  welcome: string | undefined = undefined;

  /** What health says of where other devices reach it; undefined: an older server's silence. */
  address: string | undefined = undefined;

  /** Whom it takes the phone for; null: it knows no sign-in. */
  standing: { joined: boolean; role: string } | null = null;

  /** poison says of one entry why the server refuses it, or null. */
  poison: (entry: Entry) => string | null = () => null;

  /** chokes says of a batch that the server answers 400 to the whole of it. */
  chokes: (entries: Entry[]) => boolean = () => false;

  readonly fetch = (async (url: string, init: RequestInit = {}) => {
    const { pathname, searchParams } = new URL(url, "http://server");
    const route = ({ health: "health", me: "me", offer: "offer" } as const)[pathname.split("/").at(-1) ?? ""] ?? (init.method === "POST" ? "push" : "pull");
    this.requests.push(route);
    this.unsentTold.push(new Headers(init.headers).get("Packwright-Unsent"));
    this.apiTold.add(new Headers(init.headers).get("Packwright-API"));
    const fault = this.faults[route]?.shift() ?? "pass";
    if (fault === "down") throw new TypeError("failed to fetch");
    if (typeof fault === "object") return new Response(fault.body, fault);
    const [status, body] = this.#answer(route, searchParams, init);
    if (fault === "lost") throw new TypeError("failed to fetch");
    return new Response(JSON.stringify({ now_ms: this.now(), ...body }), { status });
  }) as typeof fetch;

  #answer(route: string, query: URLSearchParams, init: RequestInit): [number, object] {
    switch (route) {
      case "health":
        return [200, { ok: true, api: this.api, min_client: this.minClient, welcome: this.welcome, address: this.address, ...this.standing }];
      case "me":
        return [200, { device: { id: "d7", name: "pit phone 2", role: this.standing?.role } }];
      case "push":
        return this.#push(JSON.parse(String(init.body)).entries);
      case "offer": {
        const ids: string[] = JSON.parse(String(init.body)).ids;
        return [200, { wanted: ids.filter((id) => !this.log.some((entry) => entry.id === id)) }];
      }
    }
    return this.#pull(query.get("epoch") ?? "", Number(query.get("after")));
  }

  #push(entries: Entry[]): [number, object] {
    if (this.chokes(entries)) return [400, JSON.parse(problemBody("this body is unreadable"))];
    const results = entries.map((entry, index) => {
      const reason = this.poison(entry);
      if (reason) return { index, id: entry.id, status: "refused", reason };
      const at = this.log.findIndex((known) => known.id === entry.id);
      if (at < 0) return { index, id: entry.id, status: "accepted", seq: this.log.push(entry) };
      const same = JSON.stringify(this.log[at]) === JSON.stringify(entry);
      return { index, id: entry.id, status: same ? "duplicate" : "conflict", seq: at + 1 };
    });
    return [200, { epoch: this.epoch, results }];
  }

  #pull(epoch: string, after: number): [number, object] {
    const head = this.log.length;
    if ((epoch !== "" && epoch !== this.epoch) || after > head) return [409, { reset: true, epoch: this.epoch, head }];
    const entries = this.log.slice(after, after + this.pageSize).map((entry, i) => ({ seq: after + 1 + i, entry }));
    const next = after + entries.length;
    return [200, { epoch: this.epoch, head, entries, next, more: next < head }];
  }
}

/** Locks is the part of the Web Locks API that the app uses, shared by fake tabs. */
export class Locks {
  held = new Set<string>();

  readonly request = (async (name: string, options: LockOptions, work: (lock: Lock | null) => Promise<unknown>) => {
    if (this.held.has(name)) return options.ifAvailable ? work(null) : new Promise(() => {}); // for ever
    this.held.add(name);
    try {
      return await work({ name, mode: options.mode ?? "exclusive" });
    } finally {
      this.held.delete(name);
    }
  }) as LockManager["request"];
}

/** CoreWorker stands in for the worker with the Go core; answer may throw to crash it. */
export class CoreWorker {
  static all: CoreWorker[] = [];
  static loads = true;
  static answer: (name: string, request: never, worker: CoreWorker) => unknown = () => ({});

  onmessage: ((event: MessageEvent) => void) | null = null;
  onerror: ((event: ErrorEvent) => void) | null = null;
  entries: Entry[] = [];
  ended = false;

  constructor() {
    CoreWorker.all.push(this);
    queueMicrotask(() => this.send(CoreWorker.loads ? { id: LOADED, answer: "null" } : { crash: "failed to fetch" }));
  }

  postMessage({ id, name, request }: ToWorker): void {
    queueMicrotask(() => {
      try {
        this.send({ id, answer: JSON.stringify(CoreWorker.answer(name, JSON.parse(request) as never, this)) });
      } catch (thrown) {
        if (thrown instanceof Error) this.send({ crash: thrown.message });
        else this.send({ id, problem: thrown as { kind: "invalid"; text: string } });
      }
    });
  }

  send(message: FromWorker): void {
    if (!this.ended) this.onmessage?.({ data: message } as MessageEvent);
  }

  terminate(): void {
    this.ended = true;
  }
}
