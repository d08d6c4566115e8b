// Step 8: the result, saved by one press.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { call } from "../../core/bridge";
import { record } from "../../data/journal";
import { go } from "../../router";
import { useAction } from "../../ui/action";
import { Facts, type Fact } from "../../ui/facts";
import { chargeWord } from "../../ui/format";
import { complaintOf, Failed, type Complaint } from "../../ui/notice";
import { Panel } from "../../ui/screen";
import { say } from "../../ui/toast";
import type { Assessment } from "../model";
import { ResultView } from "../result";
import { bodyOf } from "./draft";
import { StepFrame, type StepProps } from "./step";

export function Finish(p: StepProps) {
  const { assessment, complaint } = useAssessment(p);
  const save = useAction();
  const keep = () =>
    save.run(async () => {
      const { body } = await bodyOf(p.draft, p.team);
      const entry = await record("load-test", p.pack.code, body);
      await p.drop();
      say("Test saved on this phone");
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

function useAssessment(p: StepProps): { assessment: Assessment | null; complaint: Complaint | null } {
  const found = useSignal<{ assessment: Assessment | null; complaint: Complaint | null }>({ assessment: null, complaint: null });
  const key = JSON.stringify([p.draft, p.team]);
  useEffect(() => {
    let current = true;
    bodyOf(p.draft, p.team)
      .then(({ body }) => call("assess", { kind: "load-test", pack: p.pack.code, body }))
      .then(
        (assessment) => current && (found.value = { assessment, complaint: null }),
        (error) => current && (found.value = { assessment: null, complaint: complaintOf(error) }),
      );
    return () => {
      current = false;
    };
  }, [key]);
  return found.value;
}
