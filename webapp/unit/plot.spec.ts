import { expect, test } from "@playwright/test";
import { tickWords } from "../src/ui/plotdraw";
import type { Health, Pack, Trend } from "../src/views/model";
import { plotOf } from "../src/views/health/plotdata";
import { forecastWords, useOf } from "../src/views/health/words";

const dayMS = 86_400_000;
const day = (text: string) => new Date(`${text}T12:00:00`).getTime(); // of this machine's place, as the words are

test("ticks: the year once and where it changes, months, days or hours by their distance", () => {
  const months = ["2026-11-01", "2026-12-01", "2027-01-01"].map(day);
  expect(tickWords(months, 30 * dayMS, true)).toEqual(["Nov\n2026", "Dec", "Jan\n2027"]);
  expect(tickWords([day("2026-11-07"), day("2026-11-14")], 7 * dayMS, true)).toEqual(["7 Nov\n2026", "14 Nov"]);
  expect(tickWords([day("2026-11-07"), day("2026-11-07") + 3_600_000], 3_600_000, true)).toEqual(["12:00\n2026", "13:00"]);
});

test("ticks: as many decimals as their distance needs, and a true minus", () => {
  expect(tickWords([0.08, 0.1, 0.12], 0.02, false)).toEqual(["0.08", "0.10", "0.12"]);
  expect(tickWords([-5, 0, 5], 5, false)).toEqual(["−5", "0", "5"]);
  expect(tickWords([9.5, 9.75], 0.25, false)).toEqual(["9.50", "9.75"]);
});

const trendOf = (outcome: Trend["outcome"], dates: [string | null, string | null, string | null]): Trend =>
  ({
    outcome,
    forecast: {
      limit_ohm: 0.1,
      horizon_ms: day("2027-06-01"),
      earliest_ms: dates[0] && day(dates[0]),
      likely_ms: dates[1] && day(dates[1]),
      latest_ms: dates[2] && day(dates[2]),
      probability_now: 0.01,
      probability_by_horizon: 0.81,
      common_shift_days: null,
    },
  }) as unknown as Trend;

test("a forecast in days of the calendar, and never a day that is not known", () => {
  expect(forecastWords(trendOf("crossing", ["2027-01-08", "2027-02-01", "2027-03-02"]))).toBe(
    "That is between 8 Jan 2027 and 2 Mar 2027 (90 %), most likely about 1 Feb 2027.",
  );
  expect(forecastWords(trendOf("crossing", ["2027-01-08", "2027-04-01", null]))).toBe(
    "That is not before 8 Jan 2027 (95 %), most likely about 1 Apr 2027, and by 1 Jun 2027 with 81\u00a0%.",
  );
  expect(forecastWords(trendOf("beyond-horizon", ["2027-04-08", null, null]))).toBe(
    "The chance that it is above 0.1 Ω by 1 Jun 2027 is 81\u00a0%; further ahead these tests do not tell.",
  );
  expect(forecastWords({ outcome: "too-few", forecast: null } as unknown as Trend)).toBeNull();
});

const point = { test: "A", at_ms: day("2026-11-01"), ohm: 0.08, used_ohm: 0.079, plus_ohm: 0.01, used: true, reason: "", flag: "" };
const pack = { repairs: [] } as unknown as Pack;
const healthOf = (part: Partial<Health>): Health =>
  ({ trend: null, points: [], band: [], report: { findings: [], next_test: null }, ...part }) as unknown as Health;

test("a plot holds its limit and all intervals, and one test alone gets a month", () => {
  const { xRange, yRange, points } = plotOf(healthOf({ points: [point] }), pack, 0.1);
  expect(xRange[1] - xRange[0]).toBeCloseTo(30 * dayMS, 0);
  expect(yRange[0]).toBeLessThan(0.07);
  expect(yRange[0]).toBeGreaterThanOrEqual(0);
  expect(yRange[1]).toBeGreaterThan(0.1);
  expect(points?.[0]).toMatchObject({ y: 0.079, used: true, flagged: false });
});

test("a test that is not used stands where it was measured; one without a result is not drawn", () => {
  const others = [
    { ...point, used: false, reason: "the pack was not full" },
    { ...point, ohm: 0, used: false, reason: "its result cannot be computed" },
  ];
  expect(plotOf(healthOf({ points: others }), pack, 0.1).points).toMatchObject([{ y: 0.08, used: false }]);
  expect(others.map(useOf)).toEqual(["not in the trend: the pack was not full", "not in the trend: its result cannot be computed"]);
});

test("marks: findings that begin on a day, and repairs that start a baseline", () => {
  const finding = { cause: "lost-cell", past: false, since_ms: day("2026-11-02") };
  const findings = [finding, { ...finding, cause: "ageing-cells" }, { ...finding, past: true }];
  const repairs = [
    { baseline: true, voided: false, at_ms: day("2026-10-01") },
    { baseline: true, voided: true, at_ms: day("2026-10-02") },
    { baseline: false, voided: false, at_ms: day("2026-10-03") },
  ];
  const health = healthOf({ points: [point], report: { findings, next_test: null } as unknown as Health["report"] });
  expect(plotOf(health, { repairs } as unknown as Pack, 0.1).marks).toEqual([
    { x: day("2026-10-01"), kind: "repair" },
    { x: day("2026-11-02"), kind: "finding" },
  ]);
});
