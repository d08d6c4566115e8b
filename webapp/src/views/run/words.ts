// Words and numbers of logged runs.
import type { CapacityVerdict, Estimate, RunCapacity, RunPurpose } from "../../core/types";
import { pair, quantity } from "../../ui/format";

export const verdictWord: Record<CapacityVerdict, string> = {
  good: "Good",
  worn: "Worn",
  "at-end": "At its end",
  undecided: "Not decided",
  "not-reached": "Ended early",
  "not-pack": "Not its capacity",
};

/** The verdict that is told: a run that does not count says nothing of what the pack is worth. */
export function saidOf({ verdict, not_counted, reached }: RunCapacity): CapacityVerdict | undefined {
  return not_counted && reached && verdict !== "not-pack" ? undefined : verdict;
}

/** What a verdict means, in a sentence. */
export const verdictMeans: Record<CapacityVerdict, string> = {
  good: "The pack still gives what the team calls good.",
  worn: "The pack gives less than the team calls good, and more than the end share.",
  "at-end": "The pack gives less than the share at which the team retires packs.",
  undecided: "The uncertainty reaches across a limit. A run with a measured load and a meter of fewer percent decides.",
  "not-reached": "The run ended before the stop voltage: the capacity is at least this much.",
  "not-pack": "What may be wrong stands below.",
};

export const purposeWord: Record<RunPurpose, string> = {
  capacity: "Capacity check",
  drive: "On the robot",
};

/** "2.61 Ah ± 0.07 Ah", below 0.1 Ah in mAh, or the value alone where the log does not tell its uncertainty. */
export function interval({ value, expanded_uncertainty: plus }: Pick<Estimate, "value" | "expanded_uncertainty">, unit: string): string {
  if (unit === "Ah" && Math.abs(value) < 0.1) {
    return interval({ value: 1000 * value, expanded_uncertainty: plus === null ? null : 1000 * plus }, "mAh");
  }
  if (plus === null || !(plus > 0)) return quantity(value, unit);
  const [middle, spread] = pair(value, plus);
  return `${middle}\u00a0${unit} ± ${spread}\u00a0${unit}`;
}

/** Seconds as a person says them: "1 h 05 min", "12 min 30 s", "8.2 s". */
export function duration(seconds: number): string {
  if (seconds < 60) return quantity(seconds, "s", seconds < 10 ? 2 : 3);
  if (seconds < 3600) {
    const s = Math.round(seconds);
    return s % 60 > 0 ? `${Math.floor(s / 60)}\u00a0min ${s % 60}\u00a0s` : `${s / 60}\u00a0min`;
  }
  const minutes = Math.round(seconds / 60);
  return `${Math.floor(minutes / 60)}\u00a0h ${String(minutes % 60).padStart(2, "0")}\u00a0min`;
}
