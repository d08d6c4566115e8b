// The one error a person may read, on this side of the bridge.

import type { ProblemKind as CoreProblemKind } from "./types";

/** The kinds of internal/problem, and one that only the phone knows: the server did not answer, or something else did. */
export type ProblemKind = CoreProblemKind | "unreachable";

/** Problem says what was wrong (text), what to try (hint), and which input it is about (field). */
export class Problem extends Error {
  override readonly name = "Problem";

  constructor(
    readonly kind: ProblemKind,
    readonly text: string,
    readonly hint = "",
    readonly field = "",
  ) {
    super(text);
  }
}

/** asProblem makes any thrown value readable; what is not a Problem is a fault of the program. */
export function asProblem(thrown: unknown): Problem {
  if (thrown instanceof Problem) return thrown;
  const text = thrown instanceof Error ? thrown.message : String(thrown);
  return new Problem("internal", `internal error: ${text}`, "reload the app; if it comes back, export the journal and report it");
}
