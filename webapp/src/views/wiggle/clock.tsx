// The clock of one place: from "connect now" over the seconds of moving to
// "load off". It goes by timestamps, so a page that was frozen knows on return.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { keepAwake, signalRead } from "../../ui/signals";
import { useClockSounds } from "../clocksounds";
import type { StepProps } from "./frame";
import { places, placeWord } from "./places";

const frameMS = 50;

type Phase = "lead" | "on" | "off";

export function Clock(p: StepProps) {
  const { moveS, longestS } = p.draft;
  const connectAt = p.draft.connectedAt ?? Date.now();
  const endAt = connectAt + moveS * 1000;
  const now = useSignal(Date.now());
  useEffect(keepAwake, []);
  useEffect(() => {
    const timer = setInterval(() => (now.value = Date.now()), frameMS);
    return () => clearInterval(timer);
  }, []);
  const phase: Phase = now.value < connectAt ? "lead" : now.value < endAt ? "on" : "off";
  const onLoadS = Math.floor((now.value - connectAt) / 1000);
  const overdue = longestS !== null && now.value - connectAt > longestS * 1000;
  const leadS = Math.ceil((connectAt - now.value) / 1000);
  useClockSounds<Phase>({ phase, connect: "on", signals: { off: signalRead }, leadS, onLoadS, overdue });
  const place = placeWord[places[p.draft.at] ?? "still"];
  const words: Record<Phase, string> = {
    lead: "Get ready",
    on: p.draft.at === 0 ? "Load on, touch nothing" : "Load on, move it now",
    off: "Take the load off now",
  };
  const stop = () => p.change({ step: "ready", connectedAt: null, ...(phase !== "lead" && { disconnectedAt: Date.now() }) });
  const off = () => p.change({ step: "typed", connectedAt: null, disconnectedAt: Date.now() });
  return (
    <main class={`clock ${phase === "on" ? "on" : phase === "off" ? "now" : ""}`}>
      <div role="alert">
        <h1 key={phase}>{words[phase]}</h1>
      </div>
      <div class="clock-face">
        {phase === "lead" && <p class="clock-count">{leadS}</p>}
        {phase === "on" && (
          <>
            <p class="clock-count">{Math.ceil((endAt - now.value) / 1000)}</p>
            <p>{place.how}</p>
            <strong>Watch for the lowest and the highest.</strong>
          </>
        )}
        {phase === "off" && <p class="clock-word">Take the load off</p>}
        {phase !== "lead" && <p>On load for {onLoadS} s</p>}
        {overdue && <strong>Too long on load: the resistor is at its limit.</strong>}
      </div>
      <div class="actions">
        {phase === "off" ? (
          <button type="button" class="button main" onClick={off}>
            Load is off
          </button>
        ) : (
          <button type="button" class="button" onClick={stop}>
            {phase === "lead" ? "Stop" : "Stop: load off"}
          </button>
        )}
      </div>
    </main>
  );
}
