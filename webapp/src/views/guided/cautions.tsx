// Step 2: what can hurt. Confirmed once a day on this phone; the clock repeats
// the one that matters at its moment.
import { loadDraft, saveDraft } from "../../data/drafts";
import { prefs } from "../../data/prefs";
import { hotLoad } from "../hotload";
import { StepFrame, type StepProps } from "./step";

interface Confirmed {
  day: string;
  by: string;
}

const key = "cautions";

function today(): Confirmed {
  return { day: new Date().toDateString(), by: prefs.value.initials };
}

/** Whether the person named in Set-up has read the cautions on this phone today. */
export async function confirmedToday(): Promise<boolean> {
  const found = await loadDraft<Confirmed>(key);
  return found?.day === today().day && found.by === today().by;
}

/** Notes that the person has read them. */
export function confirmToday(): void {
  saveDraft(key, today());
}

export function CautionList() {
  return (
    <ul class="bullets">
      <li>{hotLoad}</li>
      <li>Never let the terminals, probes or clips touch each other. Take off rings and watches.</li>
      <li>Wear eye protection. Work with one hand where you can.</li>
      <li>Stop at once on heat, smell, smoke, hissing or swelling. Disconnect, step back, call the adult in charge.</li>
      <li>Do not test a pack that is damaged, wet or still hot from charging. Air the place: abused cells give off hydrogen.</li>
      <li>Students work with an adult present. The cell maker's instructions and the event's rules come first.</li>
    </ul>
  );
}

export function Cautions(p: StepProps) {
  const confirm = () => {
    confirmToday();
    p.change({ step: "circumstances" });
  };
  return (
    <StepFrame
      {...p}
      title="Before you connect"
      dock={
        <button type="button" class="button main" onClick={confirm}>
          I have read this
        </button>
      }
    >
      <div class="panel">
        <CautionList />
      </div>
      <p class="small quiet">Asked once a day on this phone.</p>
    </StepFrame>
  );
}
