// Where a lead is moved, in the order a person goes through it.
import type { WigglePlace } from "../model";

export const placeWord: Record<WigglePlace, { name: string; how: string }> = {
  still: { name: "Nothing moved", how: "Touch nothing. Watch the meter: this is what the other places are compared with." },
  connector: { name: "The connector", how: "Hold the plug by its housing and rock it gently in its mate, each way." },
  "lead-at-connector": { name: "The lead behind the connector", how: "Bend the lead to and fro where it leaves the plug." },
  "lead-middle": { name: "The middle of the lead", how: "Bend the lead along its length." },
  fuse: { name: "The fuse", how: "Press and rock the fuse and its holder, by the insulation." },
  "lead-at-pack": { name: "The lead at the pack", how: "Bend the lead gently where it enters the pack." },
};

export const places = Object.keys(placeWord) as WigglePlace[];
