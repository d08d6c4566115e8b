// The pause after the load came off, wherever the test stands meanwhile.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { tick } from "../../ui/signals";
import { setupOf, useSetupCheck } from "./setupstep";
import type { StepProps } from "./step";

interface RestProps extends StepProps {
  over?: string; // what to say when none is left
  small?: boolean; // the step has something else to show
}

/** Counts the rest down. */
export function Rest({ draft, team, pack, over = "", small }: RestProps) {
  const { check } = useSetupCheck(setupOf(team, pack));
  const left = useRest(draft.disconnectedAt, check?.pause_s ?? null);
  return (
    <>
      <p role="status">{left === null ? "" : left > 0 ? "Let the pack recover and the load cool. Leave the load off." : over}</p>
      {left !== null && left > 0 && (
        <p class={small ? "quiet" : "figure"}>
          <span class="value">{left} s</span>
          {small && " left"}
        </p>
      )}
    </>
  );
}

/** Seconds of rest left since the load came off, null while the pause is not known; a soft tone at the end. */
export function useRest(since: number | null, pauseS: number | null): number | null {
  const left = useSignal<number | null>(null);
  useEffect(() => {
    if (pauseS === null) return;
    const show = () => {
      const rest = since === null ? 0 : Math.max(0, Math.ceil((since + pauseS * 1000 - Date.now()) / 1000));
      if (rest === 0 && left.value) tick();
      left.value = rest;
    };
    show();
    const timer = setInterval(show, 250);
    return () => clearInterval(timer);
  }, [since, pauseS]);
  return left.value;
}
