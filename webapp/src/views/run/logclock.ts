// The clock of a running log, and what it does to be noticed.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { signalAlarm, signalRead } from "../../ui/signals";

const frameMS = 500;
const remindMS = 20_000; // between reminders of one reading
const alarmMS = 4_000; // between alarms while the load has to come off

/** The time, while the screen is shown; at once when it comes back. */
export function useNow(): number {
  const now = useSignal(Date.now());
  useEffect(() => {
    const show = () => (now.value = Date.now());
    const timer = setInterval(show, frameMS);
    document.addEventListener("visibilitychange", show);
    return () => {
      clearInterval(timer);
      document.removeEventListener("visibilitychange", show);
    };
  }, []);
  return now.value;
}

/** Sound and vibration while a reading is due, and an alarm while the load has to come off. */
export function useSignals(late: number, over: boolean): void {
  const turn = over ? Math.floor(late / alarmMS) : late < 0 ? -1 : Math.floor(late / remindMS);
  useEffect(() => {
    if (over) signalAlarm();
    else if (turn >= 0) signalRead();
  }, [turn, over]);
}
