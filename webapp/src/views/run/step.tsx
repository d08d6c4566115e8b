// What every step of a capacity check is given.
import { type ComponentChildren } from "preact";
import type { Pack, Team } from "../model";
import type { RunDraft } from "./draft";

export interface StepProps {
  pack: Pack;
  team: Team;
  draft: RunDraft;
  change: (part: Partial<RunDraft>) => void;
  drop: () => Promise<void>;
  restored?: ComponentChildren;
}
