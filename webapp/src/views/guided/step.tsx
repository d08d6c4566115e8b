// The frame of one step: how far the test is, the step's heading and action.
import { type ComponentChildren } from "preact";
import { Progress } from "../../ui/progress";
import { Screen } from "../../ui/screen";
import type { Pack, Team } from "../model";
import type { GuidedDraft, Step, Used } from "./draft";

/** What the steps ask of a pack. One that this browser does not know has a code alone. */
export interface TestedPack extends Pick<Pack, "code" | "name" | "fuse_a"> {
  safety: Pack["decision"]["safety"];
  unknown?: true;
}

export interface StepProps {
  pack: TestedPack;
  team: Team & Used; // what this test was confirmed with stands before what was set since
  draft: GuidedDraft;
  change: (part: Partial<GuidedDraft>) => void;
  drop: () => Promise<void>;
  restored?: ComponentChildren;
}

interface FrameProps extends Pick<StepProps, "pack" | "draft" | "restored"> {
  title: string;
  dock: ComponentChildren;
  children: ComponentChildren;
}

const stages: [string, Step[]][] = [
  ["Set-up check", ["check"]],
  ["Cautions", ["cautions"]],
  ["Circumstances", ["circumstances"]],
  ["Open-circuit reading", ["open"]],
  ["Loaded reading", ["connect", "clock", "loaded"]],
  ["Repeat or finish", ["between"]],
  ["Result", ["result"]],
];

export function StepFrame({ pack, draft, restored, title, dock, children }: FrameProps) {
  const here = stages.findIndex(([, steps]) => steps.includes(draft.step));
  const name = pack.name || pack.code;
  return (
    <Screen title={title} back={[`/p/${pack.code}`, name]} dock={dock}>
      <Progress label="Steps of the test" stages={stages.map(([word]) => word)} here={here} />
      {restored}
      {children}
    </Screen>
  );
}
