// By whose clock the core counts days: this phone's, which knows the rules of its
// place. The core gets its shifts, since the rules of all places would be most of
// what a phone downloads.

import type { Shift } from "./types";

/** What Of in internal/place knows of a zone, too. */
const known = { fromMS: Date.UTC(1980, 0), toMS: Date.UTC(2060, 0) };

const minuteMS = 60_000;
const stepMS = 10 * 24 * 60 * minuteMS; // shorter than the shortest time between two shifts, three weeks

/** Minutes ahead of UTC. */
function east(ms: number): number {
  return 0 - Math.round(new Date(ms).getTimezoneOffset());
}

/** The first minute after one moment, and up to another, that has not the offset of the first. */
function shiftAfter(ms: number, untilMS: number): number {
  const before = east(ms);
  let [low, high] = [0, (untilMS - ms) / minuteMS];
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (east(ms + middle * minuteMS) === before) low = middle;
    else high = middle;
  }
  return ms + high * minuteMS;
}

/** The shifts of this phone's clock, by time. */
export function shifts(): Shift[] {
  const list: Shift[] = [{ from_ms: known.fromMS, east_min: east(known.fromMS) }];
  for (let ms = known.fromMS; ms < known.toMS; ) {
    const next = Math.min(ms + stepMS, known.toMS);
    if (east(next) === east(ms)) {
      ms = next;
      continue;
    }
    ms = shiftAfter(ms, next);
    list.push({ from_ms: ms, east_min: east(ms) });
  }
  return list;
}

/** Tells places apart well enough to notice a journey: what clocks show in January and July. */
export function zoneNow(): string {
  const year = new Date().getFullYear();
  return `${east(Date.UTC(year, 0))} ${east(Date.UTC(year, 6))}`;
}
