// Step 5, the moment before: hands free, then one tap starts the clock.
import { plain } from "../../ui/format";
import { Notice } from "../../ui/notice";
import { unlockSound } from "../../ui/signals";
import { prefs } from "../../data/prefs";
import { hotLoad } from "../hotload";
import { Rest } from "./rest";
import { StepFrame, type StepProps } from "./step";

const leadInMS = 4000; // from the tap to "connect now": time to take up the clip

export function Connect(p: StepProps) {
  const start = () => {
    unlockSound();
    p.change({ step: "clock", connectedAt: Date.now() + leadInMS, missed: false });
  };
  return (
    <StepFrame
      {...p}
      title="Ready to connect?"
      dock={
        <button type="button" class="button main" onClick={start}>
          Start the clock
        </button>
      }
    >
      {p.draft.missed && (
        <Notice warm live="alert">
          <strong>This device slept past the reading second.</strong>
          <p>That reading does not count. Let the pack rest with the load off, then do it again.</p>
        </Notice>
      )}
      <Rest {...p} />
      <p>{hotLoad}</p>
      <ol class="steps">
        <li>
          <span>Put the screen where you see it. Probes stay on the pack.</span>
        </li>
        <li>
          <span>
            It counts down from 4, then says <strong>Connect now</strong>: put the load on.
          </span>
        </li>
        <li>
          <span>
            After {plain(p.team.read_after_s)} s it says <strong>Read now</strong>: remember the display.
          </span>
        </li>
        <li>
          <span>
            <strong>Take the load off</strong>, tap, type what you read.
          </span>
        </li>
      </ol>
      <p class="small quiet">
        {prefs.value.sound ? "You will hear it too, if the volume is up." : "Sound is off; see Set-up."}
      </p>
      <button type="button" class="button" onClick={() => p.change({ step: "open" })}>
        Back to the open-circuit reading
      </button>
    </StepFrame>
  );
}
