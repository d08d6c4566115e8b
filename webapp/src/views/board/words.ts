// The board in words.
import type { BoardRow, TrendOutcome } from "../../core/types";
import { minus } from "../../ui/format";
import { dayOf } from "../health/words";

export const trendWord: Record<TrendOutcome, string> = {
  "too-few": "Too few tests",
  "no-trend": "Steady",
  falling: "Falling",
  rising: "Rising",
  "already-above": "Above the limit",
  "beyond-horizon": "Rising slowly",
  crossing: "Rising",
  stepped: "Jumped",
};

/** The trend of a pack: a word, and how fast where that can be told. */
export function trendOf(row: BoardRow): { word: string; more: string } {
  const moving = ["rising", "falling", "beyond-horizon", "crossing"].includes(row.trend);
  const slope = moving && row.slope_pct_month !== null ? `${row.slope_pct_month > 0 ? "+" : ""}${minus(row.slope_pct_month.toFixed(1))} % a month` : "";
  const likely = row.trend === "crossing" && row.crossing?.likely_ms ? `over the limit about ${dayOf(row.crossing.likely_ms)}` : "";
  return { word: trendWord[row.trend], more: [slope, likely].filter(Boolean).join(", ") };
}

/** Why a pack has no chance of being fit. */
export function uncounted(row: BoardRow): string {
  if (row.stand === "reference") return "reference: rests";
  return row.ohm === null ? "not tested" : "not known";
}

/** A probability in percent, as a bar's length and its words. */
export function chance(p: number): string {
  if (p > 0 && p < 0.01) return "under 1 %";
  return p > 0.99 && p < 1 ? "over 99 %" : `${(p * 100).toFixed(0)} %`;
}
