// The server's sync API. Only an answer of our own shape counts: a hall's
// network may put a page of its own, with status 200, in place of any answer.

import { Problem } from "../core/problem";
import type { Entry } from "../core/types";
import type { Role } from "./status";

const ROOT = "/api/v1";
const TIMEOUT_MS = 30_000;

/** The version of the API that this app speaks, and the oldest that it can do with. */
const API_VERSION = 1;
const LEAST_API = 1;

/** The server's word on one entry. */
export interface PushResult {
  index: number; // in the batch
  id: string; // empty where the server could not read it
  status: string; // accepted, duplicate, conflict or refused
  reason?: string;
  hint?: string;
}

export interface PushAnswer {
  epoch: string;
  results: PushResult[];
}

/** A page of the server's sequence. */
export interface Page {
  epoch: string;
  head: number;
  entries: { seq: number; entry: Entry }[];
  next: number; // cursor behind this page
  more: boolean;
}

/** The server's sequence is another one than the cursor belongs to. */
export interface Reset {
  reset: true;
  epoch: string;
}

/** Later: not now. The server is away, busy or out of order; everything stays as it is. */
export class Later extends Problem {
  constructor(
    text: string,
    readonly answered: boolean, // by our server
    readonly retryAfterMS = 0,
    hint = "",
  ) {
    super("unreachable", text, hint);
  }
}

/** NotJoined: our server does not let this device in. Everything stays as it is until it has joined. */
export class NotJoined extends Later {
  constructor(text: string, hint: string) {
    super(text, true, 0, hint);
  }
}

/** TooOld: our server is newer than this app can be. Everything stays as it is until the app was updated. */
export class TooOld extends Later {
  constructor() {
    super("this version of the app is too old for the server", true, 0, "reload the app to update it; everything here is kept");
  }
}

/** Rejected: our server read the request and will never take it as it is. */
export class Rejected extends Problem {
  constructor(text: string, hint: string) {
    super("invalid", text, hint);
  }
}

/** Whom the server takes this device for. */
export interface Standing {
  joined: boolean;
  role: "" | Role;
  welcome?: string; // address of the page that explains its certificate; empty where there is none
  address?: string; // where other devices reach it; empty where nobody can
}

/** A device in the server's list. */
export interface Device {
  id: string;
  name: string;
  role: Role;
  journal_id: string; // its device id in the entries it makes
  server?: boolean; // it is another server
  joined_ms: number; // unix ms, as the next two
  seen_ms: number; // of its last request; 0: never
  unsent: number; // as it last reported; -1: it never has
  revoked_ms?: number; // absent: it is not
}

/** The server's clock as told by one answer. */
export interface ClockReading {
  offsetMS: number; // server minus phone
  roundTripMS: number;
}

export class API {
  #fetch: typeof fetch;
  #now: () => number;

  /** onClock hears of the server's clock with every answer that tells it. */
  onClock: (reading: ClockReading) => void = () => {};

  /** unsent is told to the server with every request, where it is known: leads see it in their list of devices. */
  unsent: () => number | null = () => null;

  constructor(fetcher: typeof fetch, now: () => number = Date.now) {
    this.#fetch = fetcher;
    this.#now = now;
  }

  /** health resolves if our server answers within timeoutMS. One that knows no sign-in lets everybody do everything. */
  async health(timeoutMS: number): Promise<Standing> {
    const { status, body } = await this.ask("GET", "/health", undefined, timeoutMS);
    if (status !== 200) throw refusal(status, body);
    if (body.ok !== true) throw stranger();
    if (Number(body.min_client) > API_VERSION) throw new TooOld();
    if (Number(body.api) < LEAST_API) {
      throw new Later("the server is too old for this version of the app", true, 0, "update the server; everything here is kept");
    }
    return {
      joined: body.joined !== false,
      role: body.joined === undefined ? "lead" : roleOf(body.role),
      welcome: String(body.welcome ?? ""),
      address: String(body.address ?? ""),
    };
  }

  /** me is this device in the server's list; it throws NotJoined with the reason where it is not let in. */
  async me(): Promise<Device> {
    const { status, body } = await this.ask("GET", "/me");
    if (status !== 200) throw refusal(status, body);
    return deviceOf(body.device);
  }

  /** push sends entries, given as their JSON texts. */
  async push(texts: string[], device: string): Promise<PushAnswer> {
    const { status, body } = await this.ask("POST", "/entries", {
      body: `{"entries":[${texts.join(",")}]}`,
      headers: { "Content-Type": "application/json", "Packwright-Device": device },
    });
    if (status !== 200) throw refusal(status, body);
    if (typeof body.epoch !== "string" || !Array.isArray(body.results) || !body.results.every(isResult)) throw stranger();
    return { epoch: body.epoch, results: body.results };
  }

  /** pull reads the page after a cursor; epoch is empty before the first contact. */
  async pull(epoch: string, after: number, limit: number): Promise<Page | Reset> {
    const query = new URLSearchParams({ after: String(after), limit: String(limit) });
    if (epoch) query.set("epoch", epoch);
    const { status, body } = await this.ask("GET", `/entries?${query}`);
    if (status === 409 && body.reset === true && typeof body.epoch === "string") return { reset: true, epoch: body.epoch };
    if (status !== 200) throw refusal(status, body);
    if (!isPage(body)) throw stranger();
    return body;
  }

  /** offer tells which entries are held and gives the ids that the server lacks. */
  async offer(ids: string[]): Promise<string[]> {
    const { status, body } = await this.ask("POST", "/offer", {
      body: JSON.stringify({ ids }),
      headers: { "Content-Type": "application/json" },
    });
    if (status !== 200) throw refusal(status, body);
    if (!Array.isArray(body.wanted)) throw stranger();
    const offered = new Set(ids);
    return body.wanted.filter((id): id is string => offered.has(id as string));
  }

  /** ask makes one request; it throws Later unless our server has decided on it. */
  async ask(method: string, path: string, content: Content = {}, timeoutMS = TIMEOUT_MS): Promise<Answer> {
    const unsent = this.unsent();
    const sent = this.#now();
    let response: Response;
    let text: string;
    try {
      response = await this.#fetch.call(undefined, ROOT + path, {
        ...content,
        headers: { ...content.headers, "Packwright-API": String(API_VERSION), ...(unsent !== null && { "Packwright-Unsent": String(unsent) }) },
        method,
        cache: "no-store",
        redirect: "error",
        signal: AbortSignal.timeout(timeoutMS),
      });
      text = await response.text();
    } catch {
      throw new Later("the server cannot be reached", false);
    }
    const received = this.#now();
    const body = parseObject(text);
    if (typeof body?.now_ms === "number") {
      this.onClock({ offsetMS: Math.round(body.now_ms - (sent + received) / 2), roundTripMS: received - sent });
    }
    const { status } = response;
    const words = wordsOf(body);
    if (status === 401 && words?.kind === "not_joined") throw new NotJoined(words.text, words.hint);
    if (status === 426 && words) throw new TooOld();
    if (status === 401 || status === 408 || status === 429 || status >= 500) {
      const { text, hint } = words ?? { text: `the server is not ready (status ${status})`, hint: "" };
      throw new Later(text, body !== null, retryAfter(response.headers.get("Retry-After"), received), hint);
    }
    if (!body) throw stranger();
    return { status, body };
  }
}

interface Content {
  body?: string;
  headers?: Record<string, string>;
}

interface Answer {
  status: number;
  body: Record<string, unknown>;
}

/** stranger is the problem that something else answered: a hall's network, most often. */
export function stranger(): Later {
  return new Later("something else answered in place of the server", false, 0, "the network may want you to sign in: open any web page to see");
}

/** parseObject reads a JSON object, or gives null. */
export function parseObject(text: string): Record<string, unknown> | null {
  try {
    const value: unknown = JSON.parse(text);
    return typeof value === "object" && !Array.isArray(value) ? (value as Record<string, unknown> | null) : null;
  } catch {
    return null;
  }
}

/** wordsOf reads the problem that our server puts into an answer. */
export function wordsOf(body: Record<string, unknown> | null): { kind: string; text: string; hint: string } | null {
  const problem = body?.problem as { kind?: unknown; text?: unknown; hint?: unknown } | undefined;
  if (typeof problem?.text !== "string") return null;
  return { kind: String(problem.kind), text: problem.text, hint: typeof problem.hint === "string" ? problem.hint : "" };
}

/** refusal sorts a status that is not 200: only with our server's words is it a verdict on the request. */
export function refusal(status: number, body: Record<string, unknown>): Problem {
  const words = wordsOf(body);
  if (!words) return stranger();
  if (status === 400 || status === 413 || status === 422) return new Rejected(words.text, words.hint);
  return new Later(words.text, true, 0, words.hint);
}

function roleOf(value: unknown): "" | Role {
  return value === "crew" || value === "lead" ? value : "";
}

/** deviceOf reads a device; what a newer server adds is left alone. */
export function deviceOf(value: unknown): Device {
  const device = value as Device | null;
  if (typeof device?.id !== "string" || typeof device.name !== "string" || roleOf(device.role) === "") throw stranger();
  return device;
}

function retryAfter(header: string | null, now: number): number {
  if (!header) return 0;
  const seconds = Number(header);
  const ms = Number.isFinite(seconds) ? seconds * 1000 : Date.parse(header) - now;
  return ms > 0 ? Math.min(ms, 3_600_000) : 0;
}

function isResult(value: unknown): value is PushResult {
  const result = value as PushResult | null;
  return typeof result?.id === "string" && typeof result.status === "string";
}

function isPage(body: unknown): body is Page {
  const page = body as Page;
  return (
    typeof page.epoch === "string" &&
    page.epoch !== "" &&
    Number.isSafeInteger(page.next) &&
    typeof page.more === "boolean" &&
    Array.isArray(page.entries) &&
    page.entries.every((item) => typeof item?.entry?.id === "string" && item.entry.id !== "")
  );
}

/** api is the app's own server: where it came from. */
export const api = new API((...request) => fetch(...request));
