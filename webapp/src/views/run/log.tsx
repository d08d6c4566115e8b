// The log of a capacity check. It goes by timestamps: a phone that slept says on
// waking what it missed, a late reading keeps its own time, and nothing is put
// in for those that were not taken.
import { useEffect, useRef } from "preact/hooks";
import type { RunResult } from "../../core/types";
import { flushDrafts } from "../../data/drafts";
import { Check } from "../../ui/fields";
import { plain, volts } from "../../ui/format";
import { readNumbers, useComplaints } from "../../ui/form";
import { NumberField } from "../../ui/numberfield";
import { complaintOf, Notice } from "../../ui/notice";
import { Screen } from "../../ui/screen";
import { keepAwake, unlockSound } from "../../ui/signals";
import { hotLoad } from "../hotload";
import { dueAt } from "./draft";
import { useNow, useSignals } from "./logclock";
import { Readings } from "./readings";
import { clockOf, inOrder, needed, oddness, useSoFar } from "./sofar";
import type { StepProps } from "./step";
import { duration, interval } from "./words";

const lateMS = 60_000; // later than this is said

export function Log(p: StepProps) {
  const { draft } = p;
  const now = useNow();
  const due = dueAt(draft);
  const over = stopOf(p);
  const late = now - due;
  const sofar = useSoFar(p);
  const { show, field } = useComplaints();
  const input = useRef<HTMLInputElement>(null);
  useEffect(() => (draft.awake ? keepAwake() : undefined), [draft.awake]);
  useEffect(() => {
    addEventListener("pointerdown", unlockSound); // after a reload or a sleep only a tap gives it back
    return () => removeEventListener("pointerdown", unlockSound);
  }, []);
  useSignals(late, over !== "");

  const keep = async () => {
    unlockSound();
    const read = await readNumbers({ volts: { quantity: "voltage", needed } }, { volts: draft.text });
    if (show(read.complaints)) return;
    const reading = { at: draft.textAt ?? Date.now(), text: draft.text.trim(), volts: read.numbers.volts ?? 0 };
    const odd = await oddness(p, reading);
    if (odd) return void show({ volts: odd });
    p.change({ readings: inOrder([...draft.readings, reading]), text: "", textAt: null });
    void flushDrafts(); // it cannot be read again
    input.current?.blur(); // the next reading is minutes away: the keyboard need not hide what is left
  };
  const send = (event: Event) => {
    event.preventDefault();
    void keep().catch((error) => show({ volts: complaintOf(error) }));
  };
  const title = over || (late >= 0 ? "Read the meter now" : "Logging");
  return (
    <Screen
      title={title}
      back={[`/p/${p.pack.code}`, p.pack.name || p.pack.code]}
      dock={
        over ? (
          <button type="button" class="button main" onClick={() => p.change({ step: "result", offAt: Date.now() })}>
            The load is off
          </button>
        ) : (
          <>
            <button type="button" class="button" onClick={() => p.change({ step: "result", offAt: Date.now() })}>
              Load is off
            </button>
            <button type="submit" form="log" class="button main">
              Keep this reading
            </button>
          </>
        )
      }
    >
      <div role="alert">{over && <StopNotice {...p} />}</div>
      {!over && <Countdown late={late} first={draft.readings.length === 0} />}
      {!over && (
        <form id="log" onSubmit={send} class="stack">
          <NumberField
            {...field("volts", draft.text, (text) =>
              p.change({ text, textAt: text.trim() === "" ? null : (draft.textAt ?? Date.now()) }),
            )}
            label="Meter shows, load on"
            quantity="voltage"
            big
            last
            inputRef={input}
          />
          {draft.textAt !== null && <p class="small quiet">Kept as read at {clockOf(draft.textAt)}.</p>}
        </form>
      )}
      <SoFar p={p} now={now} result={sofar} />
      <Readings {...p} />
      <Check
        label="Keep the screen on: with the screen off nothing reminds you; on waking it says what was due"
        checked={draft.awake}
        onChange={(awake) => p.change({ awake })}
      />
      <p class="small">Stay on this screen: the app reminds you only while it is open. What was kept is safe wherever you go.</p>
      <p class="small">{hotLoad} Never leave it alone.</p>
    </Screen>
  );
}

/** What the last reading says about going on; empty where nothing. */
function stopOf({ draft: { used, readings } }: StepProps): string {
  const last = readings.at(-1);
  if (!used || !last) return "";
  if (last.volts < used.plan.least_v) return "Take the load off at once";
  return last.volts <= used.plan.stop_v ? "Take the load off now" : "";
}

function StopNotice({ draft: { used, readings } }: StepProps) {
  const last = readings.at(-1);
  if (!used || !last) return null;
  return (
    <Notice warm>
      {last.volts < used.plan.least_v ? (
        <>
          <strong>{volts(last.volts)} is below 1.0 V per cell. Going on damages cells.</strong>
          <p>Take the load off, then press the button. A mistyped reading can be taken out below.</p>
        </>
      ) : (
        <>
          <strong>
            {volts(last.volts)}: the stop voltage of {plain(used.plan.stop_v)} V is reached.
          </strong>
          <p>Take the load off, then press the button. A mistyped reading can be taken out below.</p>
        </>
      )}
    </Notice>
  );
}

function Countdown({ late, first }: { late: number; first: boolean }) {
  if (late < 0) {
    const left = Math.ceil(-late / 1000);
    return (
      <p class="figure">
        <span class="value">
          {Math.floor(left / 60)}:{String(left % 60).padStart(2, "0")}
        </span>
        <span class="spread">to the next reading</span>
      </p>
    );
  }
  return (
    <div class="due-now" role="status">
      <p class="figure">
        <span class="value">Read now</span>
      </p>
      <p>
        {late > lateMS
          ? `${first ? "The first reading" : "This reading"} was due ${Math.floor(late / 60_000)} min ago. It is kept with its own time, and nothing is put in for the time between.`
          : first
            ? "The first reading: as soon as the display stands still."
            : "Read the display, then type it."}
      </p>
    </div>
  );
}

function SoFar({ p, now, result }: { p: StepProps; now: number; result: RunResult | null }) {
  const { used, startedAt, readings } = p.draft;
  const last = readings.at(-1);
  if (!used || !last || startedAt === null) return null;
  const near = last.volts <= used.plan.watch_v && last.volts > used.plan.stop_v;
  return (
    <>
      <dl class="facts panel">
        <div>
          <dt>On load for</dt>
          <dd>{duration((now - startedAt) / 1000)}</dd>
        </div>
        <div>
          <dt>Last reading</dt>
          <dd>
            {volts(last.volts)} at {clockOf(last.at)}
          </dd>
        </div>
        <div>
          <dt>Taken out so far</dt>
          <dd>{result?.charge ? interval(result.charge.out_ah, "Ah") : "after two readings"}</dd>
        </div>
        <div>
          <dt>Stop at</dt>
          <dd>{plain(used.plan.stop_v)} V</dd>
        </div>
      </dl>
      {near && <Notice warm>The voltage falls fast from here: read every minute, and stay beside it.</Notice>}
    </>
  );
}
