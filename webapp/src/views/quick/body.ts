// From the quick form's texts to the body of an entry.
import { bestNowMS } from "../../data/status";
import { dateComplaint, dayMS, readNumbers, type Complaints, type NumberSpec, type Texts, youngestMS } from "../../ui/form";
import type { Complaint } from "../../ui/notice";
import type { Charge, DirectBody, Method, TestBody } from "../model";
import { meterFields, methodForms, readAfter, sharedFields, type Ask } from "./methods";

export interface QuickDraft {
  method: Method;
  rows: number;
  texts: Texts; // only what was typed; the team's values stand behind it
  charge: Charge | "";
  paper: boolean; // typed in from a test sheet
  taken: string; // local date and time, YYYY-MM-DDTHH:MM
}

export const empty: QuickDraft = { method: "known-load", rows: 1, texts: {}, charge: "", paper: false, taken: "" };

/** The field of one reading: rows count from 0. */
export function cell(column: string, row: number): string {
  return `${column}.${row}`;
}

function asks(draft: QuickDraft): Ask[] {
  const form = methodForms[draft.method];
  return [...form.fields, ...(form.meter ? [...meterFields, readAfter] : []), ...sharedFields];
}

/** What is wrong with the time of a test on paper; nowMS is the server's where it is known. */
function takenComplaint(taken: string, nowMS: number): Complaint | null {
  if (taken === "") return { text: "the date on the sheet is missing", hint: "date and time of the test, as near as you know" };
  if (nowMS >= youngestMS && Date.parse(taken) > nowMS + dayMS) {
    return { text: "this date is still to come", hint: "check day, month and year, and this device's clock" };
  }
  return dateComplaint(taken);
}

export async function bodyOf(draft: QuickDraft, texts: Texts): Promise<{ body: TestBody | DirectBody; complaints: Complaints }> {
  const form = methodForms[draft.method];
  const spec: Record<string, NumberSpec> = Object.fromEntries(asks(draft).map((ask) => [ask.name, ask]));
  for (let row = 0; row < draft.rows; row++) {
    for (const column of form.columns) spec[cell(column.name, row)] = column;
  }
  const { numbers, complaints } = await readNumbers(spec, texts);
  const taken = draft.paper ? takenComplaint(draft.taken, bestNowMS()) : null;
  if (taken) complaints.taken_at = taken;
  const rows = Array.from({ length: draft.rows }, (_, row) => row);
  const columns = Object.fromEntries(form.columns.map((c) => [c.name, rows.map((row) => numbers[cell(c.name, row)])]));
  const fields = Object.fromEntries(
    [...form.fields, ...sharedFields].filter((ask) => numbers[ask.name] !== undefined).map((ask) => [ask.name, numbers[ask.name]]),
  );
  const meter = form.meter && {
    meter: { reading_pct: numbers.meter_pct, counts: numbers.meter_counts, resolution_v: numbers.meter_resolution_v },
    ...(numbers.read_after_s !== undefined && { read_after_s: numbers.read_after_s }),
  };
  const note = (texts.note ?? "").trim();
  const body = {
    method: draft.method,
    ...columns,
    ...fields,
    ...meter,
    ...(draft.charge && { charge: draft.charge }),
    ...(draft.paper && !complaints.taken_at && { taken_at: new Date(draft.taken).toISOString() }),
    ...(note && { note }),
  };
  return { body: body as unknown as TestBody | DirectBody, complaints };
}
