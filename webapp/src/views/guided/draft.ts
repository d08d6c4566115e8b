// The state of a guided test: all of it, so that it can be taken up again
// after a reload, a locked phone or a killed tab.
import { readNumbers, type Complaints, type NumberSpec } from "../../ui/form";
import type { Charge, SetupCheck, Team, TestBody } from "../model";

export type Step = "check" | "cautions" | "circumstances" | "open" | "connect" | "clock" | "loaded" | "between" | "result";

/** What the test is made with: as it was confirmed, whatever the team's set-up says later. */
export interface Used extends Pick<Team, "load" | "meter" | "read_after_s" | "repeats"> {
  load_rise_k: number | null; // estimated heating of the load at the reading
}

export interface GuidedDraft {
  step: Step;
  used: Used | null; // null before the set-up is confirmed
  charge: Charge | "";
  rested_min: string;
  temperature_c: string;
  note: string;
  openText: string; // being typed
  loadedText: string;
  open: string[]; // done pairs, as typed
  loaded: string[];
  connectedAt: number | null; // unix ms, load on
  disconnectedAt: number | null; // unix ms, load off last; the rest counts from here
  missed: boolean; // the phone slept past the reading second
}

export const fresh: GuidedDraft = {
  step: "check",
  used: null,
  charge: "",
  rested_min: "",
  temperature_c: "",
  note: "",
  openText: "",
  loadedText: "",
  open: [],
  loaded: [],
  connectedAt: null,
  disconnectedAt: null,
  missed: false,
};

export function usedNow({ load, meter, read_after_s, repeats }: Team, check: SetupCheck): Used {
  return { load, meter, read_after_s, repeats, load_rise_k: check.load_rise_k };
}

export const circumstanceNumbers: Record<"rested_min" | "temperature_c", NumberSpec> = {
  rested_min: { quantity: "minutes" },
  temperature_c: { quantity: "temperature" },
};

/** The entry's body from what was typed, read anew by the core. */
export async function bodyOf(draft: GuidedDraft, used: Used): Promise<{ body: TestBody; complaints: Complaints }> {
  const { numbers, complaints } = await readNumbers(circumstanceNumbers, {
    rested_min: draft.rested_min,
    temperature_c: draft.temperature_c,
  });
  const voltages = async (texts: string[]) => {
    const spec: Record<string, NumberSpec> = Object.fromEntries(texts.map((_, i) => [i, { quantity: "voltage" }]));
    const read = await readNumbers(spec, Object.fromEntries(texts.map((text, i) => [i, text])));
    Object.assign(complaints, read.complaints);
    return texts.map((_, i) => read.numbers[i] ?? Number.NaN);
  };
  const { load, meter, load_rise_k } = used;
  const body: TestBody = {
    method: "known-load",
    open_v: await voltages(draft.open),
    loaded_v: await voltages(draft.loaded),
    load_ohm: load.ohm,
    ...(load.tolerance_pct != null && { load_tolerance_pct: load.tolerance_pct }),
    ...(load.uncertainty_ohm != null && { load_uncertainty_ohm: load.uncertainty_ohm }),
    ...(load.tempco_ppm_k != null && load_rise_k != null && { load_tempco_ppm_k: load.tempco_ppm_k, load_rise_k }),
    ...(load.lead_ohm !== 0 && { lead_ohm: load.lead_ohm }),
    meter,
    read_after_s: used.read_after_s,
    ...numbers,
    ...(draft.charge && { charge: draft.charge }),
    ...(draft.note.trim() && { note: draft.note.trim() }),
  };
  return { body, complaints };
}
