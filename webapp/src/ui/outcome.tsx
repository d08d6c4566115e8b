// The mark of an outcome: a shape of its own, beside the word.
import type { Outcome } from "../views/model";
import { useWord } from "./format";

// Full disc, half disc, a ring the line runs through (undecided: the interval
// straddles the limit), a barred square, a broken ring.
const shapes: Record<Outcome, preact.JSX.Element> = {
  competition: <circle cx="12" cy="12" r="10" fill="currentColor" />,
  practice: (
    <>
      <circle cx="12" cy="12" r="9" />
      <path d="M12 3a9 9 0 0 0 0 18z" fill="currentColor" />
    </>
  ),
  retest: (
    <>
      <circle cx="12" cy="12" r="7.5" />
      <path d="M12 0.5v23" />
    </>
  ),
  "set-aside": (
    <path
      d="M3 3h18v18H3zM8.2 5.8L5.8 8.2 9.6 12l-3.8 3.8 2.4 2.4 3.8-3.8 3.8 3.8 2.4-2.4-3.8-3.8 3.8-3.8-2.4-2.4L12 9.6z"
      fill="currentColor"
      fill-rule="evenodd"
      stroke="none"
    />
  ),
  untested: <circle cx="12" cy="12" r="9" stroke-dasharray="3.5 3.57" />,
};

export function Mark({ outcome }: { outcome: Outcome }) {
  return (
    <svg class={`mark mark-${outcome}`} viewBox="0 0 24 24" fill="none" stroke="currentColor" stroke-width="2.5" aria-hidden="true">
      {shapes[outcome]}
    </svg>
  );
}

interface Props {
  decision: { outcome: Outcome; treat_as?: Outcome };
  large?: boolean;
  words?: string; // instead of the outcome's own
}

export function OutcomeLine({ decision, large, words }: Props) {
  return (
    <span class={large ? "outcome large" : "outcome"}>
      <Mark outcome={decision.outcome} />
      {words ?? useWord(decision)}
    </span>
  );
}
