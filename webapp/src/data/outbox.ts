// The outbox as the screens see it.

import { refused, unsent, unsentIds } from "./status";
import { store } from "./store";

/** refreshOutbox reads the outbox into the signals unsent, unsentIds and refused. */
export async function refreshOutbox(): Promise<void> {
  const rows = await store.outbox();
  const parked = new Map(rows.filter((row) => row.state === "refused").map((row) => [row.id, row]));
  const entries = await store.entries([...parked.keys()]);
  unsentIds.value = new Set(rows.map((row) => row.id));
  unsent.value = rows.length;
  refused.value = entries.map((entry) => ({
    entry,
    reason: parked.get(entry.id)?.reason ?? "",
    hint: parked.get(entry.id)?.hint ?? "",
  }));
}
