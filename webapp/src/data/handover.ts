// Entries on their way from one browser address to another: from plain http,
// where nothing can be sent, to the encrypted address of the same server. They
// travel behind the # of a link, which browsers never send anywhere.

import { call } from "../core/bridge";
import { Problem } from "../core/problem";
import type { Entry } from "../core/types";
import { api } from "./api";
import { addToFleet } from "./fleet";
import { refreshOutbox } from "./outbox";
import { askToPersist } from "./persist";
import { store } from "./store";
import { nudgeSync } from "./sync";
import { tellTabs } from "./tabs";

export const MOST_ENTRIES = 500; // in one link
const LINK_BYTES = 48 * 1024; // of JSON: browsers differ in how long a link may be
const MOST_BYTES = 4 * 1024 * 1024; // of a link that is opened

/** linksTo gives links that carry entries to the take-over screen of origin, in as many parts as they need. */
export function linksTo(origin: string, entries: Entry[]): string[] {
  const parts: string[][] = [];
  let bytes = LINK_BYTES;
  for (const entry of entries) {
    const text = JSON.stringify(entry);
    const size = new TextEncoder().encode(text).length + 1;
    const part = parts.at(-1);
    if (part && bytes + size <= LINK_BYTES && part.length < MOST_ENTRIES) {
      part.push(text);
      bytes += size;
    } else {
      parts.push([text]);
      bytes = size;
    }
  }
  return parts.map((texts) => `${origin}/take#${toBase64URL(`[${texts.join(",")}]`)}`);
}

/** carried reads what a link carries behind its #: a list, of what is yet to be seen. It throws a Problem. */
export function carried(hash: string): unknown[] {
  const text = hash.replace(/^#/, "");
  if (text === "") throw new Problem("invalid", "this link carries nothing", "open the link again from the page that keeps the readings");
  if (text.length > MOST_BYTES) throw tooMany();
  const list = parseList(text);
  if (!list) throw new Problem("damaged", "this link is damaged", "open it again from the page that keeps the readings: they are still there");
  if (list.length > MOST_ENTRIES) throw tooMany();
  if (list.length === 0) throw new Problem("invalid", "this link carries no entries", "there was nothing to hand over");
  return list;
}

function tooMany(): Problem {
  return new Problem("too_large", `this link carries more than ${MOST_ENTRIES} entries`, "hand them over in parts");
}

function parseList(text: string): unknown[] | null {
  try {
    const binary = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
    const bytes = Uint8Array.from(binary, (character) => character.charCodeAt(0));
    const list: unknown = JSON.parse(new TextDecoder("utf-8", { fatal: true }).decode(bytes));
    return Array.isArray(list) ? list : null;
  } catch {
    return null;
  }
}

function toBase64URL(text: string): string {
  const bytes = new TextEncoder().encode(text);
  let binary = "";
  for (const byte of bytes) binary += String.fromCharCode(byte);
  return btoa(binary).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
}

/** What a link carries, looked through: nothing is stored yet. */
export interface Carried {
  good: Entry[];
  bad: { what: string; reason: string; hint: string }[]; // stay where they are
}

/**
 * lookThrough checks entries as a server checks them, by the core, and the
 * check character of every pack code. Kinds of a newer version pass. The
 * team's settings do not travel: those of a browser that knows no team would
 * overrule the real ones.
 */
export async function lookThrough(list: unknown[]): Promise<Carried> {
  const { refused } = await call("add-entries", { entries: list as Entry[], check: true });
  const faults = new Map((refused ?? []).map((fault) => [fault.index, fault]));
  const codes = new Map<string, string>(); // complaint about each
  const carried: Carried = { good: [], bad: [] };
  for (const [i, item] of list.entries()) {
    const entry = item as Entry;
    const fault = faults.get(i) ?? settingsFault(entry) ?? (await codeFault(entry.pack ?? "", codes));
    if (fault) carried.bad.push({ what: String((item as Partial<Entry> | null)?.kind ?? ""), reason: fault.reason, hint: fault.hint });
    else carried.good.push(entry);
  }
  return carried;
}

function settingsFault(entry: Entry) {
  return entry.kind === "team-changed" ? { reason: "the team's settings are not handed over", hint: "a lead sets them under Set-up" } : null;
}

async function codeFault(code: string, known: Map<string, string>) {
  if (code === "") return null;
  if (!known.has(code)) {
    known.set(code, await call("read-code", { text: code }).then(() => "", (thrown) => (thrown as Problem).text));
  }
  const reason = known.get(code);
  return reason ? { reason, hint: "check the label" } : null;
}

/** take stores what a link carried, to be sent from here, and gives how many entries were new; on the disk when it resolves. */
export async function take(entries: Entry[]): Promise<number> {
  const held = new Set((await store.entries(entries.map(({ id }) => id))).map(({ id }) => id));
  const added = entries.filter(({ id }) => !held.has(id));
  await store.saveOwn(added);
  tellTabs({ added: added.map((entry) => entry.id) });
  await Promise.all([addToFleet(added), refreshOutbox()]);
  askToPersist();
  nudgeSync();
  return added.length;
}

/** waiting gives what this browser keeps and may hand over: all unsent entries but the team's settings. */
export async function waiting(): Promise<Entry[]> {
  const rows = await store.outbox();
  const entries = await store.entries(rows.map((row) => row.id));
  return entries.filter((entry) => entry.kind !== "team-changed");
}

/** handedOver lets entries leave the outbox, as the person says that they arrived; the journal here keeps them. */
export async function handedOver(entries: Entry[]): Promise<void> {
  await store.settle(entries.map(({ id }) => ({ id, taken: true, reason: "", hint: "" })));
  await refreshOutbox();
  tellTabs({ outbox: true });
}

/** encryptedOrigin asks the server for its encrypted address, which it names when it refuses to talk over plain http; empty where it cannot be learnt. */
export async function encryptedOrigin(): Promise<string> {
  try {
    const { body } = await api.ask("GET", "/health", undefined, 3000);
    return originIn(JSON.stringify(body));
  } catch {
    return "";
  }
}

/** originIn finds the first https address in a text. */
export function originIn(text: string): string {
  const found = /https:\/\/[^\s"\\<>]+/.exec(text)?.[0] ?? "";
  try {
    return found && new URL(found).origin;
  } catch {
    return "";
  }
}
