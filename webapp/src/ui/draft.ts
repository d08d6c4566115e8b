// A half-filled form that survives a reload, a locked phone and a killed tab.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { dropDraft, loadDraft, saveDraft } from "../data/drafts";
import { say } from "./toast";

export function useDraft<T extends object>(key: string, initial: T) {
  const value = useSignal<T | null>(null); // null while loading
  const restored = useSignal(false);
  const shown = useRef(key);
  useEffect(() => {
    let current = true;
    if (shown.current !== key) {
      shown.current = key;
      value.value = null;
      restored.value = false;
    }
    loadDraft<T>(key).then(
      (found) => {
        if (!current || value.value) return; // what is being typed is newer
        restored.value = found != null;
        value.value = { ...initial, ...found };
      },
      () => current && (value.value ??= initial), // no draft can be read: start afresh
    );
    return () => {
      current = false;
    };
  }, [key]);
  const change = (part: Partial<T>) => {
    restored.value = false; // the person goes on with it
    value.value = { ...(value.value ?? initial), ...part };
    saveDraft(key, value.value);
  };
  const drop = async () => {
    restored.value = false;
    value.value = initial; // at once: what is typed from here on is new
    await dropDraft(key);
  };
  /** Empties the form, and offers to take that back. */
  const startAfresh = async () => {
    const before = value.value;
    await drop();
    say("Emptied", async () => {
      if (!before) return;
      value.value = before;
      saveDraft(key, before);
    });
  };
  return { value, restored, change, drop, startAfresh };
}
