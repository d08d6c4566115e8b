// A pack's history as a plot draws it.
import { plain } from "../../ui/format";
import type { PlotData, PlotMark } from "../../ui/plot";
import type { Health, HealthFinding, Pack, Trend } from "../model";

const dayMS = 86_400_000;
/** Findings that begin on a day; the others come on slowly. */
const sudden: HealthFinding["cause"][] = ["contact-or-lead", "lost-cell", "set-up", "not-ready"];

const leastSpanMS = 30 * dayMS; // a few tests of one day still get a picture

export function plotOf(health: Health, pack: Pack, limitOhm: number): PlotData {
  const points = health.points
    .filter((point) => point.ohm > 0)
    .map((point) => ({
      id: point.test,
      x: point.at_ms,
      y: point.used ? point.used_ohm : point.ohm,
      plus: point.plus_ohm,
      used: point.used,
      flagged: point.flag !== "",
    }));
  const { band } = health;
  const repairs = pack.repairs.filter((repair) => !repair.voided && repair.baseline);
  const findings = health.report.findings.filter((finding) => !finding.past && sudden.includes(finding.cause));
  const marks: PlotMark[] = [
    ...repairs.map((repair): PlotMark => ({ x: repair.at_ms, kind: "repair" })),
    ...findings.map((finding): PlotMark => ({ x: finding.since_ms, kind: "finding" })),
  ];
  const ends = [...points.map((point) => point.x), ...marks.map((mark) => mark.x), ...band.map((part) => part.at_ms)];
  const [from, to] = [Math.min(...ends), Math.max(...ends)];
  const pad = Math.max(0.07 * (to - from), (leastSpanMS - (to - from)) / 2);
  const top = Math.max(limitOhm, ...points.map((point) => point.y + point.plus)) * 1.12;
  const low = Math.min(limitOhm, ...points.map((point) => point.y - point.plus));
  return {
    x: "date",
    unit: "Ω",
    xRange: [from - pad, to + pad],
    yRange: [Math.max(0, low - 0.15 * (top - low)), top],
    points,
    levels: [{ y: limitOhm, words: `limit ${plain(limitOhm)} Ω` }],
    spans: spansOf(health.trend),
    marks,
    ...(band.length > 0 && {
      curve: {
        x: band.map((part) => part.at_ms),
        line: band.map((part) => part.ohm),
        low: band.map((part) => part.low_ohm),
        high: band.map((part) => part.high_ohm),
        knownTo: Math.max(...band.filter((part) => !part.ahead).map((part) => part.at_ms)),
      },
    }),
  };
}

/** When the limit is crossed, with 90 %; open at its end where the tests do not reach so far. */
function spansOf(trend: Trend | null): { from: number; to: number }[] {
  const f = trend?.forecast;
  if (trend?.outcome !== "crossing" || !f || f.earliest_ms === null) return [];
  return [{ from: f.earliest_ms, to: f.latest_ms ?? f.horizon_ms }];
}
