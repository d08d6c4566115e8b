// What was just done, with ten seconds to take it back. Nothing is lost when
// the words go: the history of a pack offers the same later.
import { signal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { asProblem } from "../core/problem";

interface Toast {
  id: number;
  text: string;
  undo?: () => Promise<void>;
}

const undoMS = 10_000;
const shownMS = 4_000; // where there is nothing to undo
const toasts = signal<Toast[]>([]);

export function say(text: string, undo?: () => Promise<void>): void {
  const id = (toasts.value.at(-1)?.id ?? 0) + 1;
  toasts.value = [{ id, text, undo }];
}

function remove(id: number): void {
  toasts.value = toasts.value.filter((t) => t.id !== id);
}

export function Toasts() {
  return (
    <div class="toasts" role="status">
      {toasts.value.map((t) => (
        <ToastLine key={t.id} toast={t} />
      ))}
    </div>
  );
}

function ToastLine({ toast }: { toast: Toast }) {
  const timer = useRef(0);
  const wait = () => {
    timer.current = window.setTimeout(() => remove(toast.id), toast.undo ? undoMS : shownMS);
  };
  const hold = () => clearTimeout(timer.current);
  useEffect(() => {
    wait();
    return hold;
  }, [toast.id]);
  const undo = async () => {
    remove(toast.id);
    try {
      await toast.undo?.();
      say("Taken back");
    } catch (error) {
      say(`Not taken back: ${asProblem(error).text}`);
    }
  };
  return (
    <div class="toast" onFocusIn={hold} onFocusOut={wait} onPointerEnter={hold} onPointerLeave={wait}>
      <span>{toast.text}</span>
      {toast.undo && (
        <button type="button" class="button small" onClick={undo}>
          Undo
        </button>
      )}
    </div>
  );
}
