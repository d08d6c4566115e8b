// Saving: one press, one answer. A failure is shown where it happened and the
// form stays as it was.
import { useSignal } from "@preact/signals";
import { record } from "../data/journal";
import type { Entry } from "../core/types";
import { complaintOf, type Complaint } from "./notice";
import { say } from "./toast";

export function useAction() {
  const busy = useSignal(false);
  const failed = useSignal<Complaint | null>(null);
  /** Runs work; a failure goes to beside first, which takes it if it is about a field of the form. */
  const run = async (work: () => Promise<void>, beside?: (complaint: Complaint) => boolean) => {
    if (busy.value) return;
    busy.value = true;
    failed.value = null;
    try {
      await work();
    } catch (error) {
      const complaint = complaintOf(error);
      if (!beside?.(complaint)) failed.value = complaint;
    } finally {
      busy.value = false;
    }
  };
  return { busy, failed, run };
}

/** Takes an entry out of account, and offers to take that back. */
export async function voidEntry(pack: string, entry: string, said: string): Promise<void> {
  const made: Entry = await record("voided", pack, { entry });
  say(said, () => restore(pack, made.id));
}

/** Brings an entry back by voiding the entry that voided it. */
export async function restore(pack: string, voiding: string): Promise<void> {
  await record("voided", pack, { entry: voiding, reason: "taken back" });
}
