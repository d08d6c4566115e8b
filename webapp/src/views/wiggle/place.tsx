// One place of the lead: what to do there, and what the meter showed.
import { useEffect, useRef } from "preact/hooks";
import { prefs } from "../../data/prefs";
import { useComplaints } from "../../ui/form";
import { NumberField } from "../../ui/numberfield";
import { complaintOf } from "../../ui/notice";
import { unlockSound } from "../../ui/signals";
import { hotLoad } from "../hotload";
import { useRest } from "../guided/rest";
import { readSpot, type WiggleDraft } from "./draft";
import { Frame, type StepProps } from "./frame";
import { places, placeWord } from "./places";

const leadInMS = 4000; // from the tap to "load on": time to take up the clip

/** To the next place, or to the result after the last and after one that was done again. */
function onward(draft: WiggleDraft): Partial<WiggleDraft> {
  const at = draft.at + 1;
  const over = draft.again || at === places.length;
  return { low: "", high: "", ...(over ? { step: "result", again: false } : { step: "ready", at }) };
}

export function Ready(p: StepProps) {
  const place = placeWord[places[p.draft.at] ?? "still"];
  const left = useRest(p.draft.disconnectedAt, p.draft.pauseS);
  const resting = left !== null && left > 0;
  const start = () => {
    if (left === null || resting) return; // the load has to cool
    unlockSound();
    p.change({ step: "clock", connectedAt: Date.now() + leadInMS });
  };
  return (
    <Frame
      {...p}
      title={place.name}
      dock={
        <>
          {(p.draft.at > 0 || p.draft.again) && (
            <button type="button" class="button" onClick={() => p.change(onward(p.draft))}>
              {p.draft.again ? "Leave it as it was" : "Skip this place"}
            </button>
          )}
          <button type="button" class="button main" onClick={start} aria-disabled={left === null || resting}>
            {resting ? "Resting …" : "Start the clock"}
          </button>
        </>
      }
    >
      <p class="trend-words">{place.how}</p>
      <p role="status">{resting ? "Let the pack recover and the load cool. Leave the load off." : ""}</p>
      {resting && (
        <p class="figure">
          <span class="value">{left} s</span>
        </p>
      )}
      <ol class="steps">
        <li>
          <span>It counts down from 4, then: put the load on.</span>
        </li>
        <li>
          <span>
            For {p.draft.moveS} s {p.draft.at === 0 ? "touch nothing" : "move it"} and watch the meter for the lowest and the highest.
          </span>
        </li>
        <li>
          <span>Take the load off, tap, type both.</span>
        </li>
      </ol>
      <p>{hotLoad}</p>
      <p>A spark, heat or a smell at the lead: stop, load off, and set the pack aside.</p>
      <p class="small quiet">
        A meter that keeps the lowest and the highest by itself does it best.{" "}
        {prefs.value.sound ? "You will hear the clock too, if the volume is up." : "Sound is off; see Set-up."}
      </p>
    </Frame>
  );
}

export function Typed(p: StepProps) {
  const place = places[p.draft.at] ?? "still";
  const form = useComplaints();
  const input = useRef<HTMLInputElement>(null);
  useEffect(() => input.current?.focus(), []);
  const { low, high } = p.draft;
  const keep = async () => {
    if (form.show((await readSpot(low, high)).complaints)) return;
    const others = p.draft.spots.filter((spot) => spot.place !== place);
    const spots = [...others, { place, low, high }].sort((a, b) => places.indexOf(a.place) - places.indexOf(b.place));
    p.change({ ...onward(p.draft), spots });
  };
  const send = (event: Event) => {
    event.preventDefault();
    void keep().catch((error) => form.show({ low_v: complaintOf(error) }));
  };
  const field = (name: "low" | "high") => ({
    ...form.field(`${name}_v`, p.draft[name], (text) => p.change({ [name]: text })),
    quantity: "voltage" as const,
    big: true,
  });
  return (
    <Frame
      {...p}
      title={placeWord[place].name}
      dock={
        <>
          <button type="button" class="button" onClick={() => p.change({ step: "ready", low: "", high: "" })}>
            Once more
          </button>
          <button type="submit" form="spot" class="button main">
            Keep both
          </button>
        </>
      }
    >
      <p>What the meter showed with the load on. Where it stood still, type the same twice.</p>
      <form id="spot" onSubmit={send} class="stack">
        <NumberField {...field("low")} label="Lowest" inputRef={input} />
        <NumberField {...field("high")} label="Highest" last />
      </form>
    </Frame>
  );
}
