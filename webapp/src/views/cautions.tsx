// What can hurt in a test. Confirmed once a day on this device, whatever the test; the clock repeats the one
// that matters at its moment.
import { loadDraft, saveDraft } from "../data/drafts";
import { prefs } from "../data/prefs";
import { hotLoad } from "./hotload";

interface Confirmed {
  day: string;
  by: string;
}

const key = "cautions";

function today(): Confirmed {
  return { day: new Date().toDateString(), by: prefs.value.initials };
}

/** Whether the person named in Set-up has read the cautions on this device today. */
export async function confirmedToday(): Promise<boolean> {
  const found = await loadDraft<Confirmed>(key);
  return found?.day === today().day && found.by === today().by;
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

/** The step that shows them, for the frame of any test; more is what that test adds. */
export function cautionsStep(next: () => void, more?: string) {
  const confirm = () => {
    saveDraft(key, today());
    next();
  };
  return {
    title: "Before you connect",
    dock: (
      <button type="button" class="button main" onClick={confirm}>
        I have read this
      </button>
    ),
    children: (
      <>
        <div class="panel">
          <CautionList />
        </div>
        {more && <p>{more}</p>}
        <p class="small quiet">Asked once a day on this device.</p>
      </>
    ),
  };
}
