// The exchange between two servers in words.
import type { HeldBack, UpstreamStatus } from "../data/upstream";
import type { Fact } from "../ui/facts";
import { count, when } from "../ui/format";
import { sentence } from "../ui/notice";
import { roleWord } from "../ui/rolewords";

/** Held-back entries that are listed; all are counted. */
export const mostHeld = 10;

export function upstreamFacts(status: UpstreamStatus): Fact[] {
  const facts: Fact[] = [
    ["Address", status.upstream],
    ["Reach", reachWords(status)],
    ["Still to send", count(status.to_send, "entry", "entries")],
    ["Still to fetch", toFetch(status)],
    ["Last exchange", status.last_ms > 0 ? when(status.last_ms) : "never"],
  ];
  if (status.next_ms > 0) facts.push(["Next try", when(status.next_ms)]);
  if (status.role) facts.push(["Our server there", roleWord[status.role]?.name ?? status.role]);
  return facts;
}

/** A server that answers and lets ours in no more is not in reach for anybody who waits for entries. */
function reachWords({ reachable, problem }: UpstreamStatus): string {
  if (reachable === null) return "not tried yet";
  if (!reachable) return "not in reach";
  return problem ? "it answers, but nothing is exchanged" : "in reach";
}

/** What is there to fetch is known only while the other server answers; then the last word counts as the least. */
function toFetch({ reachable, problem, to_fetch }: UpstreamStatus): string {
  if (reachable && !problem) return count(to_fetch, "entry", "entries");
  return to_fetch > 0 ? `${count(to_fetch, "entry", "entries")} or more` : "not known";
}

export function heldWords({ way, status, reason, hint }: HeldBack): string {
  const where = way === "up" ? "The other server did not take it" : "Our server did not take it";
  return [`${where}: ${reason || status}.`, hint && sentence(hint)].filter(Boolean).join(" ");
}
