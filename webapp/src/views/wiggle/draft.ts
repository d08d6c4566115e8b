// The state of a wiggle test: all of it, so that it can be taken up again after
// a reload, a locked phone or a killed tab.
import { call } from "../../core/bridge";
import { readNumbers, type Complaints, type NumberSpec } from "../../ui/form";
import { setupOf } from "../guided/setupstep";
import type { Pack, SetupCheck, Team, WiggleBody, WigglePlace } from "../model";
import { places } from "./places";

export type Step = "check" | "cautions" | "open" | "ready" | "clock" | "typed" | "result";

/** What the meter showed at one place, as typed. */
export interface Spot {
  place: WigglePlace;
  low: string;
  high: string;
}

export interface WiggleDraft {
  step: Step;
  used: Pick<Team, "load" | "meter"> | null; // as confirmed, whatever the team's set-up says later
  moveS: number; // second on load at each place
  pauseS: number; // second of rest between
  longestS: number | null; // second that the load stands; null where it can stay on
  openText: string;
  at: number; // index of the place
  low: string; // being typed
  high: string;
  again: boolean; // one place is done once more, then back to the result
  spots: Spot[]; // done
  connectedAt: number | null; // unix ms, load on
  disconnectedAt: number | null; // unix ms, load off last; the rest counts from here
  note: string;
}

export const fresh: WiggleDraft = {
  step: "check",
  used: null,
  moveS: 0,
  pauseS: 0,
  longestS: null,
  openText: "",
  at: 0,
  low: "",
  high: "",
  again: false,
  spots: [],
  connectedAt: null,
  disconnectedAt: null,
  note: "",
};

const wantedS = 8; // second of moving a lead: enough for a few bends each way
const leastS = 2;
const handlingS = 3; // to take the load off, as the core reckons for a reading

/** How a load is used for a wiggle test, and the core's word on that. */
export interface Plan {
  check: SetupCheck;
  moveS: number;
}

/** Works out how long the lead may be moved with the load on, and asks whether that may be done. */
export async function planOf(team: Team, pack: Pack, openV?: number): Promise<Plan> {
  const setup = { ...setupOf(team, pack, openV), repeats: places.length, read_after_s: leastS };
  const { longest_s } = await call("setup-check", setup);
  const most = longest_s === null ? wantedS : Math.floor(longest_s) - handlingS;
  const moveS = Math.min(wantedS, Math.max(leastS, most));
  return { check: await call("setup-check", { ...setup, read_after_s: moveS }), moveS };
}

/** The entry's body from what was typed, read anew by the core. */
export async function bodyOf(draft: WiggleDraft, used: Pick<Team, "load" | "meter">): Promise<WiggleBody> {
  const spots = await Promise.all(
    draft.spots.map(async ({ place, low, high }) => {
      const { numbers } = await readSpot(low, high);
      return { place, low_v: numbers.low_v ?? Number.NaN, high_v: numbers.high_v ?? Number.NaN };
    }),
  );
  const note = draft.note.trim();
  return { load_ohm: used.load.ohm + used.load.lead_ohm, meter: used.meter, spots, ...(note && { note }) };
}

const spotNumbers: Record<"low_v" | "high_v", NumberSpec> = {
  low_v: { quantity: "voltage", needed: "type the lowest voltage that the meter showed" },
  high_v: { quantity: "voltage", needed: "type the highest voltage that the meter showed" },
};

export async function readSpot(low: string, high: string): Promise<{ numbers: { low_v?: number; high_v?: number }; complaints: Complaints }> {
  const read = await readNumbers(spotNumbers, { low_v: low, high_v: high });
  const { low_v, high_v } = read.numbers;
  if (low_v !== undefined && high_v !== undefined && low_v > high_v) {
    read.complaints.high_v = { text: "the highest is below the lowest", hint: "check both" };
  }
  return read;
}
