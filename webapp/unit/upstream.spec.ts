import { expect, test } from "@playwright/test";
import type { UpstreamStatus } from "../src/data/upstream";
import { heldWords, upstreamFacts } from "../src/views/upstreamwords";

const good: UpstreamStatus = {
  upstream: "https://workshop.local:8443",
  role: "lead",
  reachable: true,
  to_send: 0,
  to_fetch: 0,
  last_ms: Date.UTC(2026, 10, 20, 12),
  next_ms: 0,
  problem: null,
  held_back: [],
  held_back_total: 0,
};

const facts = (change: Partial<UpstreamStatus>) => Object.fromEntries(upstreamFacts({ ...good, ...change }));

test("all is exchanged", () => {
  expect(facts({})).toEqual({
    Address: "https://workshop.local:8443",
    Reach: "in reach",
    "Still to send": "0 entries",
    "Still to fetch": "0 entries",
    "Last exchange": expect.stringContaining("20 Nov 2026"),
    "Our server there": "Lead",
  });
});

test("before the first contact nothing is claimed", () => {
  expect(facts({ role: "", reachable: null, to_send: 1, last_ms: 0 })).toEqual({
    Address: "https://workshop.local:8443",
    Reach: "not tried yet",
    "Still to send": "1 entry",
    "Still to fetch": "not known",
    "Last exchange": "never",
  });
});

test("out of reach: what is behind, at least, and when it is tried again", () => {
  expect(facts({ reachable: false, to_send: 12, to_fetch: 3, next_ms: Date.UTC(2026, 10, 21, 12) })).toMatchObject({
    Reach: "not in reach",
    "Still to send": "12 entries",
    "Still to fetch": "3 entries or more",
    "Next try": expect.stringContaining("21 Nov 2026"),
  });
});

test("it answers but lets ours in no more: nothing is called in reach or known", () => {
  const problem = { text: "the other server no longer knows this server" };
  expect(facts({ problem, to_send: 2 })).toMatchObject({
    Reach: "it answers, but nothing is exchanged",
    "Still to send": "2 entries",
    "Still to fetch": "not known",
  });
});

test("a role that only newer servers know is shown by its name", () => {
  expect(facts({ role: "guest" as "crew" })).toMatchObject({ "Our server there": "guest" });
});

test("why an entry is held back", () => {
  const held = { id: "01", seen_ms: 0 };
  expect(heldWords({ ...held, way: "up", status: "refused", reason: "only a lead may change the team's settings", hint: "ask a lead" })).toBe(
    "The other server did not take it: only a lead may change the team's settings. Ask a lead.",
  );
  expect(heldWords({ ...held, way: "down", status: "conflict" })).toBe("Our server did not take it: conflict.");
});
