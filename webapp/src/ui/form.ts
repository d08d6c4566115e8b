// Reading a whole form: every number by the core, every complaint by the name
// of its field.
import { useSignal } from "@preact/signals";
import { call } from "../core/bridge";
import type { Quantity } from "../views/model";
import { complaintOf, type Complaint } from "./notice";

export type Texts = Record<string, string>;
export type Complaints = Record<string, Complaint>;

/** What a field needs beside its words. */
export interface TypedField {
  name: string;
  text: string;
  complaint?: Complaint;
  onText: (text: string) => void;
}

export interface NumberSpec {
  quantity: Quantity;
  needed?: string; // what to say when it is missing; optional without
}

/** The numbers of a form by name (absent where left empty), and what is wrong with it. */
export async function readNumbers<N extends string>(
  spec: Record<N, NumberSpec>,
  texts: Texts,
): Promise<{ numbers: Partial<Record<N, number>>; complaints: Complaints }> {
  const numbers: Partial<Record<N, number>> = {};
  const complaints: Complaints = {};
  for (const name of Object.keys(spec) as N[]) {
    const text = (texts[name] ?? "").trim();
    const { quantity, needed } = spec[name];
    if (text === "") {
      if (needed) complaints[name] = { text: needed, hint: "" };
      continue;
    }
    try {
      numbers[name] = (await call("read-number", { text, quantity })).value;
    } catch (error) {
      complaints[name] = complaintOf(error);
    }
  }
  return { numbers, complaints };
}

const earliest = Date.UTC(1980); // before any pack in use, as the core has it
const latest = Date.UTC(2200);

/** What is wrong with a date as a browser's field gives it; a year typed with two digits, most often. */
export function dateComplaint(date: string): Complaint | null {
  const ms = Date.parse(date);
  if (ms >= earliest && ms < latest) return null;
  return { text: `the year ${date.slice(0, date.indexOf("-", 1))} cannot be right`, hint: "write it with four digits" };
}

export const dayMS = 86_400_000;
export const youngestMS = Date.UTC(2026, 0); // a clock before this program is wrong, and no judge
const fewDays = 7; // a pack is labelled when it comes, and goes into service the week after

/** Whole days from today until a date, 0 for none to come; nowMS is the server's where it is known. */
export function daysUntil(date: string, nowMS: number): number {
  const now = new Date(nowMS);
  const today = Date.UTC(now.getFullYear(), now.getMonth(), now.getDate());
  return nowMS >= youngestMS ? Math.max(0, Math.round((Date.parse(date) - today) / dayMS)) || 0 : 0;
}

/** What is wrong with the day from which a pack is in service: one that is far off is a slip. */
export function inServiceComplaint(date: string, nowMS: number): Complaint | null {
  if (date === "") return null;
  const never = dateComplaint(date);
  if (never || daysUntil(date, nowMS) <= fewDays) return never;
  return { text: "this date is still to come", hint: "check day, month and year, and this device's clock" };
}

/** Complaints of a form, and focus on the first field they are about. */
export function useComplaints() {
  const complaints = useSignal<Complaints>({});
  const show = (found: Complaints): boolean => {
    complaints.value = found;
    const names = Object.keys(found);
    if (names.length === 0) return false;
    const fields = [...document.querySelectorAll<HTMLElement>("input, select, textarea")];
    const first = fields.find((field) => names.includes(field.getAttribute("name") ?? ""));
    first?.closest("details")?.setAttribute("open", ""); // it may be folded away
    first?.focus();
    return true;
  };
  /** Puts a complaint of the core beside the field it is about; false where there is none. */
  const place = (complaint: Complaint): boolean => {
    const field = complaint.field ?? "";
    // "load.name" is about the field "load_name", "load.ohm" about "ohm"
    const name = [field.replace(".", "_"), field.split(".").at(-1)].find((name) => name && document.getElementsByName(name).length > 0);
    return name !== undefined && show({ [name]: complaint });
  };
  const clear = (name: string) => {
    if (complaints.value[name]) {
      const { [name]: _, ...rest } = complaints.value;
      complaints.value = rest;
    }
  };
  /** A field of the form; typing in it takes the complaint about it away. */
  const field = (name: string, text: string, onText: (text: string) => void): TypedField => ({
    name,
    text,
    complaint: complaints.value[name],
    onText: (typed: string) => {
      clear(name);
      onText(typed);
    },
  });
  return { complaints, show, place, clear, field };
}
