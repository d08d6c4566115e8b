// The state of a capacity check by hand: all of it, since it goes on for hours
// and the phone sleeps, reloads and runs out of battery meanwhile.
import type { Load, RunBody, RunPlan } from "../../core/types";
import type { NumberSpec, Texts } from "../../ui/form";

export type RunStep = "choose" | "setup" | "cautions" | "log" | "result";

/** What the meter showed, and when. */
export interface Reading {
  at: number; // unix ms: when typing it began, or as it was written down
  text: string;
  volts: number;
}

/** What the run is made with, as it was confirmed. */
export interface Used {
  load: Load;
  plan: RunPlan;
  every_min: number;
  pack_c?: number; // °C
}

export interface RunDraft {
  step: RunStep;
  texts: Texts; // only what was typed; the team's values stand behind it
  sink: "yes" | "no" | ""; // on a heat sink; empty: as the team's load
  full: "yes" | "no" | "unknown" | ""; // empty: not said yet
  used: Used | null;
  startedAt: number | null; // unix ms, load on
  readings: Reading[]; // by time
  text: string; // being typed
  textAt: number | null; // unix ms, when typing began
  offAt: number | null; // unix ms, load off
  awake: boolean; // keep the screen on
  suggestedOhm?: number; // the load that was put in for the team's
}

export const fresh: RunDraft = {
  step: "choose",
  texts: {},
  sink: "",
  full: "",
  used: null,
  startedAt: null,
  readings: [],
  text: "",
  textAt: null,
  offAt: null,
  awake: true,
};

export const setupNumbers = {
  ohm: { quantity: "resistance", needed: "the load's resistance is missing" },
  tolerance_pct: { quantity: "percent" },
  rating_w: { quantity: "power" },
  stop_v: { quantity: "voltage" },
  every_min: { quantity: "minutes", needed: "how often to read is missing: every 5 minutes, for example" },
  pack_c: { quantity: "temperature" },
} satisfies Record<string, NumberSpec>;

/** What the fields show until something else is typed. */
export function setupTexts(load: Load, texts: Texts): Texts {
  const text = (value: number | null | undefined) => (value ? String(value) : "");
  return {
    ohm: text(load.ohm),
    tolerance_pct: load.uncertainty_ohm == null ? text(load.tolerance_pct) : "",
    rating_w: text(load.rating_w),
    every_min: "5",
    ...texts,
  };
}

/** The load as it stands in the form. The team's is kept whole where nothing was changed. */
export function loadOf(team: Load, sink: RunDraft["sink"], numbers: Partial<Record<keyof typeof setupNumbers, number>>): Load {
  const same = numbers.ohm === team.ohm;
  const load: Load = {
    ohm: numbers.ohm ?? 0,
    lead_ohm: same ? team.lead_ohm : 0,
    rating_w: numbers.rating_w ?? 0,
    on_heat_sink: sink === "" ? team.on_heat_sink : sink === "yes",
  };
  if (numbers.tolerance_pct !== undefined) return { ...load, tolerance_pct: numbers.tolerance_pct };
  return same && team.uncertainty_ohm != null ? { ...load, uncertainty_ohm: team.uncertainty_ohm } : load;
}

/** The entry's body as far as the run is. */
export function bodyOf({ used, full, startedAt, readings, texts }: RunDraft): RunBody {
  const start = startedAt ?? readings[0]?.at ?? 0;
  const note = (texts.note ?? "").trim();
  return {
    purpose: "capacity",
    started_at: new Date(start).toISOString(),
    options: {
      ...(used?.plan.options ?? { cells: 0 }),
      ...(full !== "" && full !== "unknown" && { from_full: full === "yes" }),
      ...(used?.pack_c !== undefined && { pack_c: used.pack_c }),
    },
    rows: readings.map(({ at, volts }) => ({ time_s: Math.max(0, (at - start) / 1000), volts })),
    ...(note && { note }),
  };
}

const watchMS = 60_000; // where the voltage falls fast

/** When the next reading is due, unix ms. */
export function dueAt({ used, startedAt, readings }: RunDraft): number {
  const last = readings.at(-1);
  if (!used || !last) return startedAt ?? 0;
  return last.at + (last.volts <= used.plan.watch_v ? Math.min(watchMS, used.every_min * 60_000) : used.every_min * 60_000);
}
