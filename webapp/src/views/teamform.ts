// The team's settings as texts, and the entry that records what changed.
import type { NumberSpec, Texts } from "../ui/form";
import type { Team } from "./model";

export const teamNumbers = {
  reading_pct: { quantity: "percent", needed: "the meter's percentage is missing: see its manual, or 0" },
  counts: { quantity: "count", needed: "the meter's counts are missing: see its manual, or 0" },
  resolution_v: { quantity: "voltage", needed: "the step of the last digit is missing" },
  ohm: { quantity: "resistance", needed: "the load's resistance is missing" },
  tolerance_pct: { quantity: "percent" },
  uncertainty_ohm: { quantity: "resistance" },
  tempco_ppm_k: { quantity: "count" },
  lead_ohm: { quantity: "resistance" },
  rating_w: { quantity: "power" },
  competition_ohm: { quantity: "resistance", needed: "the limit for competition is missing" },
  practice_ohm: { quantity: "resistance" },
  rest_v: { quantity: "voltage", needed: "the voltage of a rested pack is missing" },
  brownout_v: { quantity: "voltage", needed: "the voltage at which the controller browns out is missing" },
  peak_a: { quantity: "current", needed: "the robot's peak current is missing" },
  read_after_s: { quantity: "seconds", needed: "the reading second is missing" },
  repeats: { quantity: "count", needed: "the number of readings is missing" },
  rest_min: { quantity: "minutes", needed: "the rest after charging is missing" },
  retest_days: { quantity: "count", needed: "the days until a test is old are missing" },
} satisfies Record<string, NumberSpec>;

export type TeamNumber = keyof typeof teamNumbers;
export type Numbers = Partial<Record<TeamNumber, number>>;

export function textsOf(team: Team): Texts {
  const { meter, load, limits } = team;
  const text = (value: number | null | undefined) => (value == null ? "" : String(value));
  return {
    name: team.name,
    reading_pct: text(meter.reading_pct),
    counts: text(meter.counts),
    resolution_v: text(meter.resolution_v),
    load_name: load.name ?? "",
    ohm: text(load.ohm),
    tolerance_pct: text(load.tolerance_pct),
    uncertainty_ohm: text(load.uncertainty_ohm),
    tempco_ppm_k: text(load.tempco_ppm_k),
    lead_ohm: text(load.lead_ohm || null),
    rating_w: text(load.rating_w || null),
    on_heat_sink: load.on_heat_sink ? "yes" : "",
    competition_ohm: text(limits.competition_ohm),
    practice_ohm: text(limits.practice_ohm),
    rest_v: text(limits.robot.rest_v),
    brownout_v: text(limits.robot.brownout_v),
    peak_a: text(limits.robot.peak_a),
    read_after_s: text(team.read_after_s),
    repeats: text(team.repeats),
    rest_min: text(team.rest_min),
    retest_days: text(team.retest_days),
    base_url: team.base_url,
  };
}

/** The settings that the texts amount to; numbers were read from them by the core. */
export function settingsOf(texts: Texts, n: Numbers) {
  return {
    name: (texts.name ?? "").trim(),
    competition_ohm: n.competition_ohm,
    practice_ohm: n.practice_ohm ?? 0, // 0: derived from the robot
    robot: { rest_v: n.rest_v, brownout_v: n.brownout_v, peak_a: n.peak_a },
    meter: { reading_pct: n.reading_pct, counts: n.counts, resolution_v: n.resolution_v },
    load: {
      ...((texts.load_name ?? "").trim() && { name: (texts.load_name ?? "").trim() }),
      ohm: n.ohm,
      ...(n.tolerance_pct !== undefined && { tolerance_pct: n.tolerance_pct }),
      ...(n.uncertainty_ohm !== undefined && { uncertainty_ohm: n.uncertainty_ohm }),
      ...(n.tempco_ppm_k !== undefined && { tempco_ppm_k: n.tempco_ppm_k }),
      lead_ohm: n.lead_ohm ?? 0,
      rating_w: n.rating_w ?? 0,
      on_heat_sink: texts.on_heat_sink === "yes",
    },
    read_after_s: n.read_after_s,
    repeats: n.repeats,
    rest_min: n.rest_min,
    retest_days: n.retest_days,
    base_url: (texts.base_url ?? "").trim(),
  };
}

/** Only the settings that differ: others may be changed on another phone meanwhile. */
export function changesOf(before: object, now: object): Record<string, unknown> {
  const old = new Map(Object.entries(before));
  return Object.fromEntries(Object.entries(now).filter(([name, value]) => JSON.stringify(value) !== JSON.stringify(old.get(name))));
}
