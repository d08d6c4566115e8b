// The exchange of our server with another one, as our server tells it.

import { api, refusal, stranger } from "./api";
import type { Role } from "./status";

/** An entry that one of the two servers will not take from the other. */
export interface HeldBack {
  id: string;
  way: string; // "up": to the other server, "down": from it
  status: string; // conflict, refused, or a word of a newer server
  reason?: string;
  hint?: string;
  seen_ms: number; // unix ms
}

/** How the exchange stands. */
export interface UpstreamStatus {
  upstream: string; // address of the other server; empty: there is none
  role: "" | Role; // of our server there; empty: not known yet
  reachable: boolean | null; // at the last try; null: not tried yet
  to_send: number; // entries that the other has not confirmed
  to_fetch: number; // entries there, as last told, that are not known to be here
  last_ms: number; // unix ms, when both last held the same; 0: never
  next_ms: number; // unix ms of the next try after a failure; 0: none failed
  problem: { text: string; hint?: string } | null; // why the last try did not end well
  held_back: HeldBack[]; // the first of them
  held_back_total: number;
}

/** loadUpstream gives how the exchange stands; null where our server has none, or is too old to say. */
export async function loadUpstream(): Promise<UpstreamStatus | null> {
  const { status, body } = await api.ask("GET", "/upstream", undefined, 10_000);
  if (status === 404) return null;
  if (status !== 200) throw refusal(status, body);
  if (!isStatus(body)) throw stranger();
  return body.upstream === "" ? null : body;
}

function isStatus(body: unknown): body is UpstreamStatus {
  const status = body as UpstreamStatus;
  return (
    typeof status.upstream === "string" &&
    [status.to_send, status.to_fetch, status.last_ms, status.next_ms, status.held_back_total].every(Number.isFinite) &&
    Array.isArray(status.held_back)
  );
}
