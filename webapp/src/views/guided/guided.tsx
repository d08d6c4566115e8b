// The guided test: one step on screen at a time, made for one hand and bad light.
import { barred } from "../../data/access";
import { useDraft } from "../../ui/draft";
import { Restored } from "../../ui/restored";
import { useTitle } from "../../ui/screen";
import { useNewcomer } from "../newcomer";
import { NoPack } from "../nopack";
import { usePack, useTeam } from "../packdata";
import { Between } from "./between";
import { Cautions } from "./cautions";
import { Circumstances } from "./circumstances";
import { Clock } from "./clock";
import { Connect } from "./connect";
import { fresh, type GuidedDraft } from "./draft";
import { Finish } from "./finish";
import { ReadingStep } from "./reading";
import { SetupStep } from "./setupstep";
import type { StepProps, TestedPack } from "./step";

const steps = {
  check: SetupStep,
  cautions: Cautions,
  circumstances: Circumstances,
  open: ReadingStep,
  connect: Connect,
  clock: Clock,
  loaded: ReadingStep,
  between: Between,
  result: Finish,
};

export function Guided({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  const team = useTeam();
  const draft = useDraft<GuidedDraft>(`test:${code}`, fresh);
  useTitle(`Test ${pack?.name || code}`);
  const value = draft.value.value;
  const newcomer = useNewcomer(code, complaint !== null);
  const tested: TestedPack | null = pack
    ? { ...pack, safety: pack.decision.safety }
    : newcomer && barred() // it may never have been shown the team's packs
      ? { code, name: "", fuse_a: 0, safety: [], unknown: true }
      : null;
  if (!tested || !team || !value) return <NoPack code={code} complaint={newcomer === null ? null : complaint} />;
  const confirmed = value.step !== "check" && value.used;
  const props: StepProps = {
    pack: tested,
    team: { ...team, load_rise_k: null, ...confirmed },
    draft: value,
    change: draft.change,
    drop: draft.drop,
  };
  // A finding that came meanwhile stops the test, but not while the load is on.
  const stopped = tested.safety.length > 0 && ["cautions", "circumstances", "open", "connect", "between"].includes(value.step);
  const step = stopped ? "check" : value.step;
  const StepScreen = steps[step];
  return <StepScreen key={step} {...props} restored={<Restored shown={draft.restored.value} onDrop={draft.startAfresh} />} />;
}
