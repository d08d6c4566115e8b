// What the core, the store or the server answers to a screen.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { complaintOf, type Complaint } from "./notice";

export interface Answered<T> {
  answer: T | null; // null until there is one, and beside a complaint
  complaint: Complaint | null;
}

/**
 * Asks anew whenever one of on changes; a late answer to an older question is dropped, and the one before
 * stands until then. Where ask gives null there is nothing to ask, and what stood goes on standing.
 */
export function useAnswer<T>(ask: () => Promise<T> | null, on: readonly unknown[]): Answered<T> {
  const found = useSignal<Answered<T>>({ answer: null, complaint: null });
  useEffect(() => {
    let current = true;
    ask()?.then(
      (answer) => current && (found.value = { answer, complaint: null }),
      (error) => current && (found.value = { answer: null, complaint: complaintOf(error) }),
    );
    return () => {
      current = false;
    };
  }, on);
  return found.value;
}
