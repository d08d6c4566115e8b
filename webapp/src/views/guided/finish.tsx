// Step 8: the result, saved by one press.
import { call } from "../../core/bridge";
import { record } from "../../data/journal";
import { go } from "../../router";
import { useAction } from "../../ui/action";
import { useAnswer } from "../../ui/answer";
import { Facts, type Fact } from "../../ui/facts";
import { chargeWord } from "../../ui/format";
import { Failed } from "../../ui/notice";
import { Panel } from "../../ui/screen";
import { say } from "../../ui/toast";
import { ResultView } from "../result";
import { bodyOf } from "./draft";
import { StepFrame, type StepProps } from "./step";

export function Finish(p: StepProps) {
  const { answer: assessment, complaint } = useAnswer(async () => {
    const { body } = await bodyOf(p.draft, p.team);
    return call("assess", { kind: "load-test", pack: p.pack.code, body });
  }, [JSON.stringify([p.draft, p.team])]);
  const save = useAction();
  const keep = () =>
    save.run(async () => {
      const { body } = await bodyOf(p.draft, p.team);
      const entry = await record("load-test", p.pack.code, body);
      await p.drop();
      say("Test saved on this device");
      go(`/p/${p.pack.code}/test/${entry.id}`, true);
    });
  return (
    <StepFrame
      {...p}
      title="Result"
      dock={
        <>
          <button type="button" class="button" onClick={() => p.change({ step: "between" })}>
            More readings
          </button>
          <button type="button" class="button main" onClick={keep} aria-disabled={save.busy.value || !assessment}>
            Save test
          </button>
        </>
      }
    >
      <Failed show what="Not saved" complaint={save.failed.value} />
      <Failed what="No result" complaint={complaint} />
      {assessment && <ResultView result={assessment} decision={assessment} />}
      <CircumstancePanel {...p} />
    </StepFrame>
  );
}

/** How the pack was, and the way back to change it. */
function CircumstancePanel({ draft, change }: StepProps) {
  const facts: Fact[] = [
    ["Charge", draft.charge ? chargeWord[draft.charge] : "not given"],
    ["Rested", draft.rested_min || "not given"],
    ["Temperature", draft.temperature_c || "not given"],
    ["Note", draft.note || "none"],
  ];
  return (
    <Panel title="How the pack was, as typed">
      <Facts list={facts} />
      <button type="button" class="button small" onClick={() => change({ step: "circumstances" })}>
        Change these
      </button>
    </Panel>
  );
}
