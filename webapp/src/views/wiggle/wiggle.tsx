// The guided wiggle test: one step on screen at a time.
import { useDraft } from "../../ui/draft";
import { Restored } from "../../ui/restored";
import { useTitle } from "../../ui/screen";
import { NoPack } from "../nopack";
import { usePack, useTeam } from "../packdata";
import { Clock } from "./clock";
import { fresh, type WiggleDraft } from "./draft";
import type { StepProps } from "./frame";
import { Ready, Typed } from "./place";
import { Result } from "./result";
import { Cautions, Check, Open } from "./start";

const steps = { check: Check, cautions: Cautions, open: Open, ready: Ready, clock: Clock, typed: Typed, result: Result };

export function Wiggle({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  const team = useTeam();
  const draft = useDraft<WiggleDraft>(`wiggle:${code}`, fresh);
  useTitle(`Wiggle test of ${pack?.name || code}`);
  const value = draft.value.value;
  if (!pack || !team || !value) return <NoPack code={code} complaint={complaint} />;
  const props: StepProps = {
    pack,
    team: { ...team, ...(value.step !== "check" && value.used) },
    draft: value,
    change: draft.change,
    drop: draft.drop,
  };
  // A finding that came meanwhile stops the test, but not while the load is on.
  const stopped = pack.decision.safety.length > 0 && ["cautions", "open", "ready"].includes(value.step);
  const step = stopped ? "check" : value.step;
  const StepScreen = steps[step];
  return <StepScreen key={`${step} ${value.at}`} {...props} restored={<Restored shown={draft.restored.value} onDrop={draft.startAfresh} />} />;
}
