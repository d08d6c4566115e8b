// Dates and times in the browser's own fields, which speak of this phone's place.
import { bestNowMS } from "../data/status";
import { dateComplaint, youngestMS } from "./form";
import type { Complaint } from "./notice";

/** A moment as a field for date and time holds it: YYYY-MM-DDTHH:MM, local. */
export function localTime(ms: number): string {
  const at = new Date(ms);
  const two = (n: number) => String(n).padStart(2, "0");
  return `${localDate(ms)}T${two(at.getHours())}:${two(at.getMinutes())}`;
}

/** The day of a moment as a date field holds it: YYYY-MM-DD, local. */
export function localDate(ms: number): string {
  const at = new Date(ms);
  const two = (n: number) => String(n).padStart(2, "0");
  return `${String(at.getFullYear()).padStart(4, "0")}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}

const aheadMS = 3_600_000; // clocks differ

/** What is wrong with the time of something that has happened, or null. */
export function timeComplaint(local: string): Complaint | null {
  const never = dateComplaint(local);
  if (never) return never;
  const now = bestNowMS();
  if (now >= youngestMS && Date.parse(local) > now + aheadMS) {
    return { text: "this time is still to come", hint: "check day, month and year, and this device's clock" };
  }
  return null;
}
