// What a running log comes to so far, by the core.
import { call } from "../../core/bridge";
import type { RunResult } from "../../core/types";
import { useAnswer } from "../../ui/answer";
import { plain } from "../../ui/format";
import type { Complaint } from "../../ui/notice";
import { bodyOf, type Reading } from "./draft";
import type { StepProps } from "./step";

/** What is said where a reading is missing. */
export const needed = "type the voltage that the meter shows";

const clock = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", second: "2-digit" });

export function clockOf(ms: number): string {
  return clock.format(ms);
}

/** Readings by their time. */
export function inOrder(readings: Reading[]): Reading[] {
  return [...readings].sort((a, b) => a.at - b.at);
}

/** What the core finds impossible about one more reading, in words; null where it can be used. */
export async function oddness(p: StepProps, reading: Reading): Promise<Complaint | null> {
  const readings = inOrder([...p.draft.readings, reading]);
  if (readings.length < 2) {
    // A first reading is near the open-circuit voltage, or so low that the load has to come off: then it is kept.
    if (reading.volts > (p.draft.used?.plan.watch_v ?? 0)) await call("open-check", { pack: p.pack.code, open_v: reading.volts });
    return null;
  }
  const result = await call("run-check", { pack: p.pack.code, body: bodyOf({ ...p.draft, readings }) });
  const issue = result.issues.find((one) => one.set_aside);
  return issue ? { text: `${plain(reading.volts)} V cannot be used here`, hint: issue.hint } : null;
}

/** The result as far as the run is; null before there is one, and where there is none: that is said at the end, where it can be mended. */
export function useSoFar(p: StepProps): RunResult | null {
  const ask = async () => (p.draft.readings.length < 2 ? null : call("run-check", { pack: p.pack.code, body: bodyOf(p.draft) }));
  return useAnswer(ask, [JSON.stringify(p.draft.readings)]).answer;
}
