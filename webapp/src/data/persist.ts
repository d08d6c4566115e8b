// Asking the browser not to clear this app's storage when space runs short.

import { persisted } from "./status";

let asked = false;

/** askToPersist asks once, after the first save; the answer is in the signal persisted. */
export function askToPersist(): void {
  if (asked) return;
  asked = true;
  void answerOf("persist");
}

/** readPersisted finds out what was promised before, without asking. */
export function readPersisted(): Promise<void> {
  return answerOf("persisted");
}

async function answerOf(question: "persist" | "persisted"): Promise<void> {
  try {
    persisted.value = (await navigator.storage?.[question]()) ?? false; // absent over plain http
  } catch {
    persisted.value = false;
  }
}
