// Step 3: what makes this test comparable with the others. A value that speaks
// against that is said beside its field, and goes on only when it was meant.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { call } from "../../core/bridge";
import { useAction } from "../../ui/action";
import { readNumbers, useComplaints, type Complaints } from "../../ui/form";
import { lengthComplaint, mostNote, TextField } from "../../ui/fields";
import { complaintOf, Failed } from "../../ui/notice";
import { CircumstanceFields } from "../circumstancefields";
import type { DirectBody } from "../model";
import { circumstanceNumbers } from "./draft";
import { StepFrame, type StepProps } from "./step";

export function Circumstances(p: StepProps) {
  const { complaints, show, clear } = useComplaints();
  const asked = useSignal(false); // whether what is doubted is meant
  const doubts = useSignal<Complaints>({});
  const act = useAction();
  const { rested_min, temperature_c } = p.draft;
  useEffect(() => {
    let current = true;
    checked(p).then(
      (found) => current && (doubts.value = found.doubts),
      () => {}, // said when the person goes on
    );
    return () => {
      current = false;
    };
  }, [rested_min, temperature_c]);
  const tested = p.draft.open.length > 0; // came back from the result
  const goOn = () => p.change({ step: tested ? "result" : "open" });
  const next = async () => {
    asked.value = false;
    const found = await checked(p);
    const note = lengthComplaint(p.draft.note, mostNote);
    if (show({ ...found.complaints, ...(note && { note }) })) return;
    asked.value = show(found.doubts);
    if (!asked.value) goOn();
  };
  return (
    <StepFrame
      {...p}
      title="How is the pack?"
      dock={
        <>
          {asked.value && (
            <button type="button" class="button" onClick={goOn}>
              It is right: go on
            </button>
          )}
          <button type="button" class="button main" onClick={() => act.run(next)} aria-disabled={act.busy.value}>
            {tested ? "Back to the result" : "Next: open-circuit reading"}
          </button>
        </>
      }
    >
      <p>Leave empty what you do not know. Tests in like conditions compare best.</p>
      <CircumstanceFields
        restRule={p.team.rest_min}
        values={p.draft}
        complaints={complaints.value}
        doubts={doubts.value}
        onChange={(part) => {
          for (const name of Object.keys(part)) clear(name);
          asked.value = false;
          p.change(part);
        }}
      />
      <TextField name="note" label="Note" text={p.draft.note} most={mostNote} onText={(note) => p.change({ note })} />
      <Failed show what="Not checked" complaint={act.failed.value} />
    </StepFrame>
  );
}

/** The core's warnings about circumstances, with the field each is about. */
const fieldOf: Record<string, string> = { "temperature-off": "temperature_c", "not-rested": "rested_min" };

/**
 * What is wrong with the circumstances and what is doubted. The core doubts them
 * with a result only: there is none yet, so one at the limit stands in.
 */
async function checked(p: StepProps): Promise<{ complaints: Complaints; doubts: Complaints }> {
  const { rested_min, temperature_c } = p.draft;
  const { numbers, complaints } = await readNumbers(circumstanceNumbers, { rested_min, temperature_c });
  const doubts: Complaints = {};
  const standIn: DirectBody = {
    method: "direct-dc",
    resistance_ohm: [p.team.limits.competition_ohm],
    accuracy_pct: 1,
    counts: 0,
    resolution_ohm: 0.001,
    ...numbers,
  };
  try {
    const { warnings } = await call("assess", { kind: "direct-reading", pack: "", body: standIn });
    for (const { code, text, hint } of warnings) {
      const field = fieldOf[code];
      if (field) doubts[field] = { text, hint: hint ?? "" };
    }
  } catch (error) {
    const complaint = complaintOf(error);
    if (!complaint.field || !(complaint.field in circumstanceNumbers)) throw error;
    complaints[complaint.field] = complaint;
  }
  return { complaints, doubts };
}
