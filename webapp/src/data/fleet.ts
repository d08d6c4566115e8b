// The folded state of the fleet, as the core last answered it.

import { signal } from "@preact/signals";
import { type Call, Crash, call } from "../core/bridge";
import type { Entry, Overview, Pack } from "../core/types";

/** The fleet at a glance; null until the core has the journal. */
export const overview = signal<Overview | null>(null);

/** Grows whenever entries were added: what was loaded before may be out of date. */
export const revision = signal(0);

/** loadPack gives everything on one pack; it rejects with a Problem where there is none. */
export function loadPack(code: string): Promise<Pack> {
  return call("pack", { code, now_ms: Date.now() });
}

let running: Promise<void> | null = null;
let again = false;

/** refreshOverview asks the core for the overview; calls made meanwhile share one more answer. */
export function refreshOverview(): Promise<void> {
  if (running) {
    again = true;
    return running;
  }
  running = (async () => {
    do {
      again = false;
      overview.value = await call("overview", { now_ms: Date.now() });
      revision.value++;
    } while (again);
  })().finally(() => (running = null));
  return running;
}

/** addToFleet folds saved entries into the core and refreshes the overview. */
export async function addToFleet(entries: Entry[]): Promise<void> {
  if (entries.length === 0) return;
  try {
    await feed(call, entries);
  } catch (thrown) {
    if (!(thrown instanceof Crash)) throw thrown; // a new worker gets them from the store
  }
  await refreshOverview();
}

/** feed gives the core entries without refreshing anything. */
export async function feed(call: Call, entries: Entry[]): Promise<void> {
  await call("add-entries", { entries });
}
