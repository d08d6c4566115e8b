// The trend and the findings in words, with dates for a person's calendar.
import { date, pair, percent, plain } from "../../ui/format";
import type { HealthFinding, HealthPoint, Trend } from "../model";

/** A day, from unix ms. */
export function dayOf(ms: number): string {
  const at = new Date(ms);
  const two = (n: number) => String(n).padStart(2, "0");
  return date(`${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`);
}

/** The core's forecast with days of the calendar: between which the limit is crossed, and how sure that is. */
export function forecastWords(trend: Trend): string | null {
  const f = trend.forecast;
  if (!f) return null;
  const limit = `${plain(f.limit_ohm)} Ω`;
  const horizon = dayOf(f.horizon_ms);
  if (trend.outcome === "crossing" && f.earliest_ms !== null && f.likely_ms !== null) {
    const likely = `most likely about ${dayOf(f.likely_ms)}`;
    if (f.latest_ms !== null) return `That is between ${dayOf(f.earliest_ms)} and ${dayOf(f.latest_ms)} (90 %), ${likely}.`;
    return `That is not before ${dayOf(f.earliest_ms)} (95 %), ${likely}, and by ${horizon} with ${percent(f.probability_by_horizon)}.`;
  }
  if (trend.outcome === "already-above") return `The chance that it is above ${limit} is ${percent(f.probability_now)}.`;
  return `The chance that it is above ${limit} by ${horizon} is ${percent(f.probability_by_horizon)}; further ahead these tests do not tell.`;
}

export const confidenceWord: Record<HealthFinding["confidence"], string> = {
  plain: "Sure: hardly anything else explains it",
  likely: "Likely",
  possible: "Possible: worth a look",
};

export function ohms(value: number, plus: number): string {
  const [figure, spread] = pair(value, plus);
  return plus > 0 ? `${figure} Ω ± ${spread} Ω` : `${plain(Number(value.toPrecision(3)))} Ω`;
}

const flagWord: Record<string, string> = {
  outlier: "off the line, and the others are not",
  step: "the resistance jumped here",
  unconfirmed: "off the line: test again to be sure",
};

/** How a test is taken in the trend. */
export function useOf(point: HealthPoint): string {
  if (!point.used) return `not in the trend: ${point.reason}`;
  return flagWord[point.flag] ?? "in the trend";
}
