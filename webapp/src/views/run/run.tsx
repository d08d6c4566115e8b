// Logged runs of a pack: a capacity check by hand, or a logger's file.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useDraft } from "../../ui/draft";
import { Restored } from "../../ui/restored";
import { NoPack } from "../nopack";
import { usePack, useTeam } from "../packdata";
import { Cautions } from "./cautions";
import { Choose } from "./choose";
import { fresh, type RunDraft } from "./draft";
import { FileRun } from "./file";
import { Finish } from "./finish";
import { Log } from "./log";
import { Setup } from "./setup";
import type { StepProps } from "./step";

export function RunScreen({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  const team = useTeam();
  const draft = useDraft<RunDraft>(`run:${code}`, fresh);
  const file = useSignal<File | null>(null);
  const value = draft.value.value;
  useEffect(() => scrollTo(0, 0), [value?.step, file.value]); // each step begins at its top
  if (!pack || !team || !value) return <NoPack code={code} complaint={complaint} />;
  if (file.value) return <FileRun pack={pack} team={team} file={file.value} onClose={() => (file.value = null)} />;
  const props: StepProps = {
    pack,
    team,
    draft: value,
    change: draft.change,
    drop: draft.drop,
    restored: <Restored shown={draft.restored.value && value.step === "setup"} onDrop={draft.startAfresh} />,
  };
  switch (value.step) {
    case "choose":
      return <Choose {...props} file={file} />;
    case "setup":
      return <Setup {...props} />;
    case "cautions":
      return <Cautions {...props} />;
    case "log":
      return <Log {...props} />;
    case "result":
      return <Finish {...props} />;
  }
}
