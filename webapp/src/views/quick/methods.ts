// What each method asks for: the columns of a reading and the fields beside
// them, by the JSON names of the entry's body.
import type { Method, Quantity, Team } from "../model";
import type { Texts } from "../../ui/form";

export interface Ask {
  name: string;
  label: string;
  quantity: Quantity;
  tiny?: boolean; // a step or an uncertainty
  needed?: string; // what to say when it is missing
  help?: string;
}

interface MethodForm {
  kind: "load-test" | "direct-reading";
  columns: Ask[]; // one value each per reading
  fields: Ask[];
  meter: boolean; // the voltmeter's accuracy belongs to the body
}

const openV: Ask = { name: "open_v", label: "Load off", quantity: "voltage", needed: "the open-circuit voltage is missing" };
const loadedV: Ask = { name: "loaded_v", label: "Load on", quantity: "voltage", needed: "the voltage on load is missing" };
const tolerance: Ask = { name: "load_tolerance_pct", label: "Load, tolerance ±", quantity: "percent", help: "As printed on it, in %" };
const measured: Ask = {
  name: "load_uncertainty_ohm",
  label: "or measured to, u",
  quantity: "resistance",
  tiny: true,
  help: "Standard uncertainty, in Ω",
};
const lead: Ask = {
  name: "lead_ohm",
  label: "Leads of the load",
  quantity: "resistance",
  tiny: true,
  help: "In Ω; empty if measured with it",
};

const direct: MethodForm = {
  kind: "direct-reading",
  columns: [{ name: "resistance_ohm", label: "Resistance", quantity: "resistance", needed: "the resistance is missing" }],
  fields: [
    {
      name: "accuracy_pct",
      label: "Instrument, % of reading",
      quantity: "percent",
      needed: "the accuracy of the instrument is missing: see its manual",
    },
    { name: "counts", label: "and counts", quantity: "count", needed: "the counts of the accuracy are missing: see the manual, or 0" },
    {
      name: "resolution_ohm",
      label: "Last digit",
      quantity: "resistance",
      tiny: true,
      needed: "the step of the last digit is missing",
      help: "In Ω, for example 0.0001",
    },
    { name: "open_v", label: "Open-circuit voltage", quantity: "voltage", help: "If the instrument shows it" },
  ],
  meter: false,
};

export const methodForms: Record<Method, MethodForm> = {
  "known-load": {
    kind: "load-test",
    columns: [openV, loadedV],
    fields: [
      { name: "load_ohm", label: "Load", quantity: "resistance", needed: "the load's resistance is missing" },
      tolerance,
      measured,
      lead,
    ],
    meter: true,
  },
  "two-loads": {
    kind: "load-test",
    columns: [
      { name: "loaded_1_v", label: "First load on", quantity: "voltage", needed: "the voltage on the first load is missing" },
      { name: "loaded_2_v", label: "Second load on", quantity: "voltage", needed: "the voltage on the second load is missing" },
    ],
    fields: [
      { name: "load_1_ohm", label: "First load, the larger", quantity: "resistance", needed: "the first load's resistance is missing" },
      { name: "load_2_ohm", label: "Second load, the smaller", quantity: "resistance", needed: "the second load's resistance is missing" },
      tolerance,
      measured,
      lead,
    ],
    meter: true,
  },
  "measured-current": {
    kind: "load-test",
    columns: [openV, loadedV, { name: "current_a", label: "Current", quantity: "current", needed: "the current is missing" }],
    fields: [
      { name: "current_pct", label: "Current meter, % of reading", quantity: "percent" },
      { name: "current_counts", label: "and counts", quantity: "count" },
      { name: "current_resolution_a", label: "Its last digit", quantity: "current", tiny: true, help: "In A, for example 0.01" },
    ],
    meter: true,
  },
  "direct-ac": {
    ...direct,
    fields: [...direct.fields, { name: "frequency_hz", label: "Frequency", quantity: "frequency", help: "In Hz, usually 1000" }],
  },
  "direct-dc": direct,
};

export const meterFields: Ask[] = [
  { name: "meter_pct", label: "Voltmeter, % of reading", quantity: "percent", needed: "the meter's accuracy is missing: see its manual" },
  { name: "meter_counts", label: "and counts", quantity: "count", needed: "the meter's counts are missing: see its manual, or 0" },
  {
    name: "meter_resolution_v",
    label: "Last digit",
    quantity: "voltage",
    tiny: true,
    needed: "the step of the meter's last digit is missing",
    help: "In V, for example 0.01",
  },
];

export const sharedFields: Ask[] = [
  { name: "rested_min", label: "Rested", quantity: "minutes" },
  { name: "temperature_c", label: "Temperature", quantity: "temperature" },
];

export const readAfter: Ask = { name: "read_after_s", label: "Read after", quantity: "seconds", help: "Seconds on load" };

/** What the team's set-up fills in until something else is typed. */
export function teamTexts(team: Team | null): Texts {
  if (!team) return {};
  const text = (value: number | null | undefined) => (value == null ? "" : String(value));
  return {
    load_ohm: text(team.load.ohm),
    load_tolerance_pct: text(team.load.tolerance_pct),
    load_uncertainty_ohm: text(team.load.uncertainty_ohm),
    lead_ohm: text(team.load.lead_ohm || null),
    meter_pct: text(team.meter.reading_pct),
    meter_counts: text(team.meter.counts),
    meter_resolution_v: text(team.meter.resolution_v),
    read_after_s: text(team.read_after_s),
  };
}
