// The team's settings for the season as texts, and what they amount to.
import type { NumberSpec, Texts } from "../ui/form";
import type { Team } from "./model";

export const seasonNumbers = {
  wanted_packs: { quantity: "count", needed: "say how many packs you want" },
  wanted_pct: { quantity: "percent", needed: "say how sure you want to be of that" },
  pack_price: { quantity: "count" },
  delivery_days: { quantity: "count", needed: "the days of delivery are missing" },
  capacity_good_pct: { quantity: "percent", needed: "the share that is good is missing" },
  capacity_end_pct: { quantity: "percent", needed: "the share at the end is missing" },
  charge_factor: { quantity: "percent", needed: "say how much charge goes in" },
  self_discharge_pct_month: { quantity: "percent", needed: "the usual loss is missing" },
  top_up_days: { quantity: "count", needed: "the days between top-ups are missing" },
  condition_days: { quantity: "count", needed: "the days between cycles are missing" },
} satisfies Record<string, NumberSpec>;

export type SeasonNumber = keyof typeof seasonNumbers;
export type SeasonValues = Partial<Record<SeasonNumber, number>>;

export const seasonFields = [...Object.keys(seasonNumbers), "event_name", "event_date", "currency", "to_20c", "reference_pack"];

export function seasonTexts(team: Team): Texts {
  const numbers = Object.keys(seasonNumbers) as SeasonNumber[];
  return {
    ...Object.fromEntries(numbers.map((name) => [name, String(team[name])])),
    pack_price: team.pack_price === 0 ? "" : String(team.pack_price),
    charge_factor: String(Number((100 * team.charge_factor).toFixed(6))), // asked in percent
    event_name: team.event_name,
    event_date: team.event_date,
    currency: team.currency,
    to_20c: team.to_20c ? "yes" : "",
    reference_pack: team.reference_pack,
  };
}

/** The settings that the texts amount to; numbers were read from them by the core. */
export function seasonOf(texts: Texts, numbers: SeasonValues) {
  return {
    ...numbers,
    charge_factor: numbers.charge_factor === undefined ? undefined : numbers.charge_factor / 100,
    pack_price: numbers.pack_price ?? 0, // 0: not known
    event_name: (texts.event_name ?? "").trim(),
    event_date: texts.event_date ?? "",
    currency: (texts.currency ?? "").trim(),
    to_20c: texts.to_20c === "yes",
    reference_pack: texts.reference_pack ?? "",
  };
}
