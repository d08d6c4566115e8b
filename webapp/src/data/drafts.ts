// Half-filled forms: saved while typing, so that a reload, a locked phone or a
// killed tab loses nothing.

import { store } from "./store";
import { saveProblem } from "./status";
import { asProblem } from "../core/problem";

const DELAY_MS = 300;
const NOT_SAVED = "what you typed could not be kept: ";

/** What was typed but not yet written, with the timer that will write it. */
const pending = new Map<string, { value: unknown; timer: ReturnType<typeof setTimeout> }>();

/** loadDraft gives what saveDraft kept under key, or null. */
export async function loadDraft<T>(key: string): Promise<T | null> {
  const waiting = pending.get(key);
  const value = waiting ? waiting.value : await store.draft(key);
  return (value ?? null) as T | null;
}

/**
 * saveDraft keeps value (plain data) under key: a moment after the first call
 * that was not written yet, so that steady typing is never further behind, or
 * when the app is hidden.
 */
export function saveDraft(key: string, value: unknown): void {
  const timer = pending.get(key)?.timer ?? setTimeout(() => void write(key), DELAY_MS);
  pending.set(key, { value, timer });
}

/** dropDraft forgets a draft, when its form was saved or given up. */
export async function dropDraft(key: string): Promise<void> {
  clearTimeout(pending.get(key)?.timer);
  pending.delete(key);
  await store.dropDraft(key);
}

/** flushDrafts writes all that waits, before the page goes away. */
export async function flushDrafts(): Promise<void> {
  await Promise.all([...pending.keys()].map(write));
}

async function write(key: string): Promise<void> {
  const waiting = pending.get(key);
  if (!waiting) return;
  clearTimeout(waiting.timer);
  pending.delete(key);
  try {
    await store.saveDraft(key, waiting.value);
    if (saveProblem.value?.startsWith(NOT_SAVED)) saveProblem.value = null;
  } catch (thrown) {
    saveProblem.value = NOT_SAVED + asProblem(thrown).text;
  }
}
