// The clock from "connect now" over the reading second to "load off". It goes
// by timestamps: a page that was frozen knows on return what it missed.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { keepAwake, signalAlarm, signalRead } from "../../ui/signals";
import { plain } from "../../ui/format";
import { useClockSounds } from "../clocksounds";
import { setupOf, useSetupCheck } from "./setupstep";
import type { StepProps } from "./step";

const frameMS = 50;
const lateMS = 700; // a reading signal later than this is no reading second
const readMS = 1800; // how long "read now" stays before "load off" takes over

const connectMS = 1500; // how long "connect now" stays before the count to the reading

type Phase = "lead" | "connect" | "on" | "read" | "off" | "missed";

export function Clock(p: StepProps) {
  const connectAt = p.draft.connectedAt ?? Date.now();
  const readAt = connectAt + p.team.read_after_s * 1000;
  const now = useSignal(Date.now());
  const signalled = useSignal(false); // the reading signal was given in time
  const { check } = useSetupCheck(setupOf(p.team, p.pack));
  const longest = check?.longest_s ?? null;
  const phase = phaseAt(now.value, connectAt, readAt, signalled.value);
  useEffect(keepAwake, []);
  useEffect(() => {
    const timer = setInterval(() => {
      const at = Date.now();
      if (at >= readAt && at - readAt <= lateMS) signalled.value = true;
      now.value = at;
    }, frameMS);
    return () => clearInterval(timer);
  }, [readAt]);
  const overdue = longest !== null && now.value - connectAt > longest * 1000;
  useClockSounds({
    phase,
    connect: "connect",
    signals: { read: signalRead, missed: signalAlarm },
    leadS: Math.ceil((connectAt - now.value) / 1000),
    onLoadS: Math.floor((now.value - connectAt) / 1000),
    overdue,
  });

  const off = () => {
    const missed = phase === "missed";
    p.change({ step: missed ? "connect" : "loaded", disconnectedAt: Date.now(), missed });
  };
  const cancel = () => {
    const loadWasOn = phase !== "lead";
    p.change({ step: "connect", connectedAt: null, missed: false, ...(loadWasOn && { disconnectedAt: Date.now() }) });
  };
  return (
    <main class={`clock ${phase === "connect" || phase === "on" ? "on" : phase === "read" ? "now" : ""}`}>
      <PhaseHeading phase={phase} />
      <div class="clock-face">
        <Face phase={phase} toConnect={connectAt - now.value} toRead={readAt - now.value} />
        <SecondsScale onLoadS={(now.value - connectAt) / 1000} readS={p.team.read_after_s} />
        {phase !== "lead" && (
          <p>
            On load for {Math.floor((now.value - connectAt) / 1000)} s{longest !== null && `; longest ${plain(Math.floor(longest))} s`}
          </p>
        )}
        {overdue && <strong>Too long on load: the resistor is at its limit.</strong>}
      </div>
      <div class="actions">
        {phase === "lead" || phase === "connect" || phase === "on" ? (
          <button type="button" class="button" onClick={cancel}>
            {phase === "lead" ? "Stop" : "Stop: load off"}
          </button>
        ) : (
          <button type="button" class="button main" onClick={off}>
            Load is off
          </button>
        )}
      </div>
    </main>
  );
}

function phaseAt(now: number, connectAt: number, readAt: number, signalled: boolean): Phase {
  if (now < connectAt) return "lead";
  if (now < Math.min(connectAt + connectMS, readAt)) return "connect";
  if (now < readAt) return "on";
  if (!signalled && now - readAt > lateMS) return "missed";
  return now < readAt + readMS ? "read" : "off";
}

const words: Record<Phase, string> = {
  lead: "Get ready",
  connect: "Connect now",
  on: "Get ready to read",
  read: "Read now",
  off: "Take the load off now",
  missed: "Too late: take the load off",
};

function PhaseHeading({ phase }: { phase: Phase }) {
  return (
    <div role="alert">
      <h1 key={phase}>{words[phase]}</h1>
    </div>
  );
}

function Face({ phase, toConnect, toRead }: { phase: Phase; toConnect: number; toRead: number }) {
  switch (phase) {
    case "lead":
      return <p class="clock-count">{Math.ceil(toConnect / 1000)}</p>;
    case "connect":
      return <p class="clock-word">Load on</p>;
    case "on":
      return <p class="clock-count">{Math.ceil(toRead / 1000)}</p>;
    case "read":
      return <p class="clock-word">Read the meter</p>;
    case "off":
      return <p class="clock-word">Take the load off</p>;
    case "missed":
      return <p>This device slept past the reading second. Take the load off; this reading is done again.</p>;
  }
}

/** The seconds on load as a rule with a needle, up to the reading second. */
function SecondsScale({ onLoadS, readS }: { onLoadS: number; readS: number }) {
  const at = (s: number) => 10 + (300 * Math.min(Math.max(s, 0), readS)) / readS;
  const marks = Array.from({ length: Math.floor(readS) + 1 }, (_, s) => s);
  return (
    <svg class="clock-scale" viewBox="0 0 320 40" aria-hidden="true">
      <path d={`M10 36h300${marks.map((s) => `M${at(s)} 36v-12`).join("")}M310 36v-20`} />
      <path class="needle" d={`M${at(onLoadS)} 36l-8 -22h16z`} />
    </svg>
  );
}
