// How numbers and times are written on screen. Drawing only: the values come
// from the core; here they get their digits and their unit, kept on one line by
// a space that does not break.
import type { Bodies } from "../core/types";
import type { Charge, Finding, Method, Outcome } from "../views/model";

/** Decimals that leave the uncertainty two significant digits (GUM 7.2.6). */
function decimalsFor(uncertainty: number): number {
  if (!(uncertainty > 0)) return 3;
  const first = Math.floor(Math.log10(uncertainty));
  // 0.0996 rounds to 0.10: one place fewer.
  const rounded = Number(uncertainty.toPrecision(2));
  return Math.min(6, Math.max(0, 1 - Math.max(first, Math.floor(Math.log10(rounded)))));
}

/** Resistance and expanded uncertainty to the same last digit: "0.102", "0.012". */
export function pair(value: number, uncertainty: number): [string, string] {
  const digits = decimalsFor(uncertainty);
  return [minus(value.toFixed(digits)), uncertainty.toFixed(digits)];
}

/** A number to three significant digits or more, with its unit. */
export function quantity(value: number, unit: string, digits = 3): string {
  if (value === 0) return withUnit("0", unit);
  const places = Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(value))));
  return withUnit(minus(value.toFixed(Math.min(6, places))), unit);
}

function withUnit(digits: string, unit: string): string {
  return unit ? `${digits}\u00a0${unit}` : digits;
}

/** A resistance of which only an upper bound is known: "≤ 0.041 Ω". */
export function atMost(ohm: number): string {
  return `≤\u00a0${quantity(ohm, "Ω", 2)}`;
}

/** A number as it was entered, without false digits. */
export function plain(value: number): string {
  return minus(String(Number(value.toPrecision(10))));
}

const manyDegrees = 10_000; // beyond, it no longer matters

/** Degrees of freedom, rounded down (JCGM 100:2008, G.4.1). */
export function degreesOfFreedom(dof: number): string {
  return dof > manyDegrees ? `over ${manyDegrees}` : plain(Math.floor(dof));
}

/**
 * What was understood of a typed number: the digits as they were typed, unless
 * more than a comma for the point had to be read.
 */
export function echo(text: string, value: number, shown: string): string {
  const digits = text.trim().replace(",", ".");
  const [, number, unit = ""] = /^([\d.]+)\s?(.*)$/.exec(shown) ?? [];
  const asTyped = /^\d+(\.\d+)?$/.test(digits) && Number(digits) === value && Number(number) === value;
  return asTyped ? withUnit(digits, unit) : shown;
}

export function volts(value: number): string {
  return `${minus(value.toFixed(2))}\u00a0V`;
}

export function minus(text: string): string {
  return text.replace(/^-/, "−");
}

export function percent(share: number): string {
  const value = share * 100;
  if (value > 99.5) return "more than 99\u00a0%";
  if (value < 0.5) return "less than 1\u00a0%";
  return `${value.toFixed(0)}\u00a0%`;
}

const months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/** "25 Nov 2026", as the core has it in its sentences; browsers abbreviate September in two ways. */
function day(at: Date): string {
  return `${at.getDate()} ${months[at.getMonth()]} ${at.getFullYear()}`;
}

const clock = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit" });

/** "25 Nov 2026, 14:05"; today the time alone. */
export function when(ms: number): string {
  const date = new Date(ms);
  if (date.toDateString() === new Date().toDateString()) return `today, ${clock.format(date)}`;
  return `${day(date)}, ${clock.format(date)}`;
}

/** "25 Nov 2026" from YYYY-MM-DD; anything else as it is. */
export function date(text: string): string {
  const ms = Date.parse(`${text}T12:00:00`);
  return Number.isNaN(ms) ? text : day(new Date(ms));
}

/** How many midnights of this phone's place lie between: the days when the clocks change count as any other. */
export function daysAgo(ms: number, nowMS = Date.now()): string {
  const days = dayNumber(nowMS) - dayNumber(ms);
  if (days <= 0) return "today";
  return days === 1 ? "yesterday" : `${days} days ago`;
}

function dayNumber(ms: number): number {
  const date = new Date(ms);
  return Date.UTC(date.getFullYear(), date.getMonth(), date.getDate()) / 86_400_000;
}

export function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

export function count(n: number, one: string, many = `${one}s`): string {
  return `${n} ${n === 1 ? one : many}`;
}

export const outcomeWord: Record<Outcome, string> = {
  competition: "Competition",
  practice: "Practice",
  retest: "Retest",
  "set-aside": "Set aside",
  untested: "Not tested",
};

/** What a pack is to be used as: its outcome, or what to do where nothing practical would decide. */
export function useWord({ outcome, treat_as }: { outcome: Outcome; treat_as?: Outcome }): string {
  return treat_as ? `Treat as ${outcomeWord[treat_as].toLowerCase()}` : outcomeWord[outcome];
}

export const methodWord: Record<Method, string> = {
  "known-load": "Known load",
  "two-loads": "Two loads",
  "measured-current": "Measured current",
  "direct-ac": "Direct reading, a.c.",
  "direct-dc": "Direct reading, d.c.",
};

const kindWord: Record<string, string> = {
  "pack-added": "Pack added",
  "profile-changed": "Profile changed",
  "load-test": "Load test",
  "direct-reading": "Direct reading",
  note: "Note",
  inspection: "Inspection",
  "finding-closed": "Finding closed",
  "team-changed": "Team set-up changed",
  voided: "Entry voided",
  repair: "Repair",
  charge: "Charge",
  run: "Logged run",
  wiggle: "Wiggle test",
  import: "Old tests read in",
} satisfies Record<keyof Bodies, string>;

/** What an entry records; a kind of a newer version by its own name. */
export function kindOf(kind: string): string {
  return kindWord[kind] ?? kind;
}

export const chargeWord: Record<Charge, string> = {
  full: "Full",
  partial: "Part full",
  unknown: "Not known",
};

export const findingWord: Record<Finding, string> = {
  swollen: "Swollen",
  leaking: "Leaking",
  hot: "Hot without reason",
  "cut-insulation": "Cut insulation",
  "melted-connector": "Melted connector",
  "reversed-cell": "Reversed cell",
  "loose-contact": "Loose contact",
  "other-safety": "Other danger",
  sound: "Looked at: sound",
};
