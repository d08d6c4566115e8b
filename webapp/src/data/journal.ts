// Making entries, and the journal as a file.

import { call } from "../core/bridge";
import { asProblem } from "../core/problem";
import type { Entry } from "../core/types";
import { addToFleet } from "./fleet";
import { refreshOutbox } from "./outbox";
import { askToPersist } from "./persist";
import { prefs } from "./prefs";
import { saveProblem, startProblem } from "./status";
import { store } from "./store";
import { nudgeSync } from "./sync";
import { tellTabs } from "./tabs";

/**
 * record makes an entry and saves it. It resolves when the entry is on this
 * phone's disk; nothing may be called saved before. It rejects with a Problem
 * where the entry is invalid or could not be saved.
 */
export async function record(kind: Entry["kind"], pack: string, body: unknown): Promise<Entry> {
  const entry = await make(kind, pack, body);
  await save([entry]);
  return entry;
}

/** make makes an entry without saving it; it rejects with a Problem where it is invalid. Whoever makes many asks for the device once. */
export async function make(kind: Entry["kind"], pack: string, body: unknown, by = prefs.value.initials, device?: string): Promise<Entry> {
  const { entry } = await call("make-entry", {
    kind,
    pack,
    by,
    device: device ?? (await store.device()),
    now_ms: Date.now(),
    random: Array.from(crypto.getRandomValues(new Uint8Array(10))),
    body,
  });
  return entry;
}

/** exportFile gives all entries on this phone, unsent ones among them, one JSON object a line. */
export async function exportFile(): Promise<Blob> {
  const parts: string[] = [];
  await store.eachBatch(1000, (entries) => {
    parts.push(entries.map((entry) => JSON.stringify(entry) + "\n").join(""));
  });
  return new Blob(parts, { type: "application/x-ndjson" });
}

/** save stores entries strictly, then tells everyone. What follows the storing cannot undo it. */
export async function save(entries: Entry[]): Promise<void> {
  try {
    await store.saveOwn(entries);
  } catch (thrown) {
    const problem = asProblem(thrown);
    saveProblem.value = `not saved: ${problem.text}`;
    throw problem;
  }
  saveProblem.value = null;
  tellTabs({ added: entries.map((entry) => entry.id) });
  await Promise.all([addToFleet(entries), refreshOutbox()]).catch((thrown) => {
    startProblem.value = asProblem(thrown).text; // saved, but not shown
  });
  askToPersist();
  nudgeSync();
}
