// What can hurt in hours on load: read before every run, since each is another day's.
import { plain } from "../../ui/format";
import { Screen } from "../../ui/screen";
import { unlockSound } from "../../ui/signals";
import { hotLoad } from "../hotload";
import type { StepProps } from "./step";

export function Cautions(p: StepProps) {
  const plan = p.draft.used?.plan;
  const start = () => {
    unlockSound();
    p.change({ step: "log", startedAt: Date.now(), readings: [], offAt: null, text: "", textAt: null });
  };
  return (
    <Screen
      title="Before you connect"
      back={[`/p/${p.pack.code}`, p.pack.name || p.pack.code]}
      dock={
        <>
          <button type="button" class="button" onClick={() => p.change({ step: "setup" })}>
            Back
          </button>
          <button type="button" class="button main" onClick={start}>
            The load is on: start
          </button>
        </>
      }
    >
      <div class="panel">
        <ul class="bullets">
          <li>
            <strong>The resistor stays hot for hours.</strong> {hotLoad}
          </li>
          <li>
            <strong>Never leave it alone.</strong> Somebody stays in the room until the load is off. If you have to go, take the load off
            first.
          </li>
          <li>Lay the load on stone, tile or metal, away from paper, tape, cables and the pack. Leave air around it.</li>
          <li>Keep the pack where you see and reach it. Off at once on heat, smell, smoke, hissing or swelling, and call the adult in charge.</li>
          <li>
            Take the load off at {plain(plan?.stop_v ?? 0)} V. Never let the pack run on: a cell driven into reversal is damaged and can vent
            gas.
          </li>
          <li>Not a damaged, wet or hot pack. Students work with an adult present. The cell maker's instructions and local rules come first.</li>
        </ul>
      </div>
      <ol class="steps">
        <li>
          <span>Put the meter's probes on the ends of the load, where they can stay.</span>
        </li>
        <li>
          <span>Connect the load, then press start at once.</span>
        </li>
        <li>
          <span>Type what the meter shows: now, and each time the app asks.</span>
        </li>
        <li>
          <span>
            Leave that screen open and this device awake: <strong>only then does the app remind you</strong>. On waking it says what was due.
          </span>
        </li>
      </ol>
    </Screen>
  );
}
