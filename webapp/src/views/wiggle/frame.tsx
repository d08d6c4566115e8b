// The frame of one step of a wiggle test: how far it is, heading and action.
import { type ComponentChildren } from "preact";
import { Progress } from "../../ui/progress";
import { Screen } from "../../ui/screen";
import type { Pack, Team } from "../model";
import type { WiggleDraft } from "./draft";
import { places, placeWord } from "./places";

export interface StepProps {
  pack: Pack;
  team: Team; // with the load and the meter that were confirmed
  draft: WiggleDraft;
  change: (part: Partial<WiggleDraft>) => void;
  drop: () => Promise<void>;
  restored?: ComponentChildren;
}

interface FrameProps extends Pick<StepProps, "pack" | "draft" | "restored"> {
  title: string;
  dock: ComponentChildren;
  children: ComponentChildren;
}

export function Frame({ pack, draft, restored, title, dock, children }: FrameProps) {
  const started = ["ready", "clock", "typed"].includes(draft.step);
  const stages = ["Set-up check", ...places.map((place) => placeWord[place].name), "Result"];
  const here = draft.step === "result" ? stages.length - 1 : started ? draft.at + 1 : 0;
  return (
    <Screen title={title} back={[`/p/${pack.code}/health`, "Health"]} dock={dock}>
      <Progress label="Steps of the wiggle test" stages={stages} here={here} />
      {restored}
      {children}
    </Screen>
  );
}
