// What page and core worker say to each other. Requests and answers travel as
// JSON text, which costs less than cloned objects.

import type { ProblemKind } from "./problem";

/** One call to the core. */
export interface ToWorker {
  id: number; // from 1
  name: string;
  request: string; // JSON
}

/** The id under which a worker answers, unasked, that its core is loaded. */
export const LOADED = 0;

/** The outcome of one call, or the news that the core can go on no more. */
export type FromWorker =
  | { id: number; answer: string } // JSON
  | { id: number; problem: { kind: ProblemKind; text: string; hint?: string; field?: string } }
  | { crash: string };
