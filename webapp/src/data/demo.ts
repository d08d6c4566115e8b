// The invented season, to look around with.

import { asProblem, Problem } from "../core/problem";
import type { Entry } from "../core/types";
import { save } from "./journal";
import { store } from "./store";
import { syncNow } from "./sync";

/** How many entries the demo season has; it rejects with a Problem where importDemo would. */
export async function countDemo(): Promise<number> {
  await expectEmpty();
  return (await fetchDemo()).length;
}

/**
 * importDemo fills an empty journal with the invented season. What the phone
 * holds is not enough to call it empty: the team's journal may be on the
 * server, and the demo would be sent into it later.
 */
export async function importDemo(): Promise<void> {
  await expectEmpty();
  await save(await fetchDemo());
}

async function expectEmpty(): Promise<void> {
  if (!(await syncNow())) {
    throw new Problem("unreachable", "the server must be reached first, to see that it keeps no real packs", "connect to it, or wait for the sync to end, and try again");
  }
  if ((await store.count()) > 0) {
    throw new Problem("conflict", "there are entries already: the demo season goes into an empty journal only", "start the server with a separate data folder to look at the demo");
  }
}

async function fetchDemo(): Promise<Entry[]> {
  let text: string;
  try {
    const response = await fetch("/demo.jsonl");
    if (!response.ok) throw new Error(`status ${response.status}`);
    text = await response.text();
    return text.split("\n").filter(Boolean).map((line) => JSON.parse(line) as Entry);
  } catch (thrown) {
    throw new Problem("unreachable", `the demo season could not be loaded (${asProblem(thrown).text})`, "connect to the server and try again");
  }
}
