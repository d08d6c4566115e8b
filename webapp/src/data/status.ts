// What the data layer tells the screens: signals only, no behaviour.

import { signal } from "@preact/signals";
import type { Entry } from "../core/types";
import { type Tier, tierOf } from "./tier";

/** Whether the phone's journal and the core can be used. */
export const ready = signal<"starting" | "ready" | "failed">("starting");

/** Why it failed, or what start-up waits for; null when there is nothing to say. */
export const startProblem = signal<string | null>(null);

/** Ids of entries that the server has not confirmed; refused ones are among them. */
export const unsentIds = signal<ReadonlySet<string>>(new Set());

/** How many those are. */
export const unsent = signal(0);

/** An entry that the server would not take: kept here, shown, exported. */
export interface Refused {
  entry: Entry;
  reason: string;
  hint: string;
}
export const refused = signal<Refused[]>([]);

/** When this phone last exchanged everything with the server, unix ms. */
export const lastSync = signal<number | null>(null);

/** Whether the server answered the last probe; null before the first one. */
export const reachable = signal<boolean | null>(null);

/** Whether the browser promised to keep our storage; null until it was asked. */
export const persisted = signal<boolean | null>(null);

/** What could not be saved on this phone, and why; null when all is saved. */
export const saveProblem = signal<string | null>(null);

/** Why the server does not take or give entries although it answers; null when it does. */
export const syncProblem = signal<string | null>(null);

/** The server is newer than this version of the app can be: it has to be updated first. */
export const tooOld = signal(false);

/** Address of the server's page that explains how to trust it, as last told; empty where there is none. */
export const welcomePage = signal("");

/** Address at which other devices reach the server, as last told: "https://pit.local:8443"; empty where nobody can, or it is not known. */
export const serverAddress = signal("");

/** Why the app cannot be kept for offline use; null when it can. */
export const offlineProblem = signal<string | null>(null);

/** A new version of the app waits for applyUpdate(), and nobody has put it off yet. */
export const updateWaiting = signal(false);

/** It waits still, but was put off: it is offered in Set-up only. */
export const updatePutOff = signal(false);

/** Server clock minus this phone's clock, ms; null until measured. */
export const clockOffsetMS = signal<number | null>(null);

/** bestNowMS is the time by the server's clock where it is known, in unix ms. */
export function bestNowMS(): number {
  return Date.now() + (clockOffsetMS.value ?? 0);
}

/** An exchange with the server is going on in this tab. */
export const syncing = signal(false);

/** How far the way to the server can be trusted. */
export const tier = signal<Tier>(tierOf(globalThis.location?.protocol, globalThis.isSecureContext));

/** What a device may do: crew record, read and print; leads look after devices and settings too. */
export type Role = "crew" | "lead";

/** What this device may do, as last told by the server; empty where it is not let in. */
export const role = signal<"" | Role>("");

/**
 * What the server takes this device for; unknown until it was asked. One that
 * had joined and is not let in any more is signed out, not a stranger.
 */
export const access = signal<"unknown" | "joined" | "stranger" | "signed-out">("unknown");

/** Why the server lets this device in no more, in its words; null while it does. */
export const signedOut = signal<string | null>(null);

/** Who this device is in the server's list, as last told; null where it never joined. */
export interface Membership {
  id: string;
  name: string;
  role: Role;
  off?: string; // why the server lets it in no more, in its words; absent while it does
}
export const membership = signal<Membership | null>(null);

/** Everything on this device was deleted: the app has come to its end here. */
export const wiped = signal(false);
