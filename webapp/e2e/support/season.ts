// A pack with a history, made without an app.

import { entryAt, packCodes } from "./journal";
import type { Entry } from "./server";

const dayMS = 86_400_000;
const lastDay = Date.UTC(2026, 10, 20, 16); // of the tests, before today in every journey

/** packOf is a pack and its code. */
export function packOf(name: string, index = 0): { code: string; entry: Entry } {
  const code = packCodes(index + 1)[index]!;
  return { code, entry: entryAt(lastDay - 400 * dayMS, "pack-added", code, { name, capacity_ah: 3, cells: 10, fuse_a: 20 }) };
}

/** testsOf is a test every so many days up to the last one, each of a full, rested pack on a known load of 3.3 Ω; ohms are what they come to. */
export function testsOf(code: string, ohms: number[], everyDays = 14, more: object = {}): Entry[] {
  return ohms.map((ohm, i) => {
    const at = lastDay - (ohms.length - 1 - i) * everyDays * dayMS;
    return entryAt(at, "load-test", code, { ...testBody(ohm), ...more });
  });
}

function testBody(ohm: number): Entry["body"] {
  const loadOhm = 3.3;
  const open = [13.2, 13.19, 13.21];
  const loaded = open.map((volts) => Number(((volts * loadOhm) / (loadOhm + ohm)).toFixed(3)));
  return {
    method: "known-load",
    open_v: open,
    loaded_v: loaded,
    load_ohm: loadOhm,
    load_tolerance_pct: 1,
    meter: { reading_pct: 0.1, counts: 2, resolution_v: 0.001 },
    read_after_s: 5,
    charge: "full",
    rested_min: 90,
    temperature_c: 20,
  };
}
