// What the clock of a test says to the ear, for a person who looks at the meter.
import { useEffect, useRef } from "preact/hooks";
import { signalAlarm, signalConnect, tick } from "../ui/signals";

interface Clock<P extends string> {
  phase: P | "lead" | "on"; // counting down, and counting on load
  connect: P | "on"; // the phase in which the load goes on
  signals: Partial<Record<P, () => void>>; // of the others, as they begin
  leadS: number; // left until the load goes on
  onLoadS: number;
  overdue: boolean;
}

/** One signal as a phase begins, a tick each second before it, an alarm while overdue. */
export function useClockSounds<P extends string>({ phase, connect, signals, leadS, onLoadS, overdue }: Clock<P>): void {
  const last = useRef<string | null>(null);
  useEffect(() => {
    if (phase === connect && last.current === "lead") signalConnect(); // not where a page comes back in the middle
    signals[phase as P]?.();
    last.current = phase;
  }, [phase]);
  useEffect(() => {
    if (phase === "lead" && leadS <= 3) tick();
  }, [phase, leadS]);
  useEffect(() => {
    if (phase === "on") tick();
    if (overdue) signalAlarm();
  }, [onLoadS, overdue]);
}
