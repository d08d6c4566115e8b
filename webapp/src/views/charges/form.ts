// From the texts of the charge form to the body of an entry.
import type { ChargeBody, ChargeEnd, ChargePurpose } from "../../core/types";
import { readNumbers, type Complaints, type NumberSpec, type Texts } from "../../ui/form";
import { timeComplaint } from "../../ui/moment";
import { lengthComplaint } from "../../ui/fields";

export interface ChargeDraft {
  purpose: ChargePurpose;
  ended: ChargeEnd | "";
  texts: Texts; // started_at, ended_at (local date and time), charger, numbers, text
}

export const empty: ChargeDraft = { purpose: "use", ended: "", texts: {} };

export const purposeWord: Record<ChargePurpose, string> = {
  use: "For use",
  "top-up": "Top-up in storage",
  conditioning: "Conditioning",
};

export const endWord: Record<ChargeEnd, string> = {
  full: "Full, says the charger",
  timer: "Time or input limit",
  hot: "Too hot",
  stopped: "Stopped by hand",
  fault: "Error of the charger",
  unknown: "Not known",
};

export const chargeNumbers = {
  current_a: { quantity: "current" },
  put_in_ah: { quantity: "ampere-hours" },
  missing_ah: { quantity: "ampere-hours" },
} satisfies Record<string, NumberSpec>;

export const mostCharger = 60; // characters
export const mostText = 1000;

export async function bodyOf({ purpose, ended, texts }: ChargeDraft): Promise<{ body: ChargeBody; complaints: Complaints }> {
  const { numbers, complaints } = await readNumbers(chargeNumbers, texts);
  const { started_at = "", ended_at = "", charger = "", text = "" } = texts;
  const start = started_at === "" ? { text: "the start is missing", hint: "press Now when the charge starts, or type it" } : timeComplaint(started_at);
  if (start) complaints.started_at = start;
  const end = ended_at === "" ? null : timeComplaint(ended_at);
  if (end) complaints.ended_at = end;
  else if (ended_at !== "" && !start && Date.parse(ended_at) < Date.parse(started_at)) {
    complaints.ended_at = { text: "this is before the start", hint: "check both times" };
  }
  if (ended === "") complaints.ended = { text: "what ended the charge is missing", hint: "choose Not known where nobody saw it" };
  const long = lengthComplaint(charger, mostCharger);
  if (long) complaints.charger = long;
  const longer = lengthComplaint(text, mostText);
  if (longer) complaints.text = longer;
  const iso = (local: string) => (Number.isNaN(Date.parse(local)) ? "" : new Date(local).toISOString());
  const body: ChargeBody = {
    started_at: iso(started_at),
    ...(ended_at && { ended_at: iso(ended_at) }),
    purpose,
    ...(charger.trim() && { charger: charger.trim() }),
    ...numbers,
    ended: ended || "unknown",
    ...(text.trim() && { text: text.trim() }),
  };
  return { body, complaints };
}
