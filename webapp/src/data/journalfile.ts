// Reading a saved journal: entries that another device, or this one, wrote to a
// file, one JSON object a line. They are kept here and sent from here.

import { call } from "../core/bridge";
import { Problem } from "../core/problem";
import type { Entry } from "../core/types";
import { save } from "./journal";
import { store } from "./store";
import { piecesOf } from "./textfile";

const PIECE_BYTES = 256 << 10;
const BATCH = 500; // entries checked and saved at once
const MOST_LINE = 1 << 20; // characters; an entry is far shorter
const MOST_SHOWN = 20; // reasons kept; all refused are counted

/** What became of the lines of a file. */
export interface JournalRead {
  added: number; // new here, saved
  known: number; // here already
  refused: number;
  why: { line: number; reason: string; hint: string }[]; // of the first refused
}

/**
 * readJournal checks each line as a server checks an entry and saves what is new,
 * batch by batch: what was saved before it breaks off stays, and reading the file
 * again goes on from there. It rejects with a Problem; bytes hears how far it is.
 */
export async function readJournal(file: Blob, bytes: (done: number) => void = () => {}): Promise<JournalRead> {
  const read: JournalRead = { added: 0, known: 0, refused: 0, why: [] };
  let rest = "";
  let line = 0;
  let batch: Line[] = [];
  const keep = async () => {
    await keepBatch(batch, read);
    batch = [];
  };
  for await (const piece of piecesOf(file, "utf-8", PIECE_BYTES)) {
    const lines = (rest + piece.text).split("\n");
    rest = lines.pop() ?? "";
    if (rest.length > MOST_LINE) throw new Problem("invalid", "the file is no saved journal: a line does not end", "choose a file with one entry a line");
    for (const text of lines) {
      line++;
      if (text.trim() !== "") batch.push(lineOf(line, text));
      if (batch.length >= BATCH) await keep();
    }
    bytes(piece.bytes);
  }
  if (rest.trim() !== "") batch.push(lineOf(line + 1, rest));
  await keep();
  if (read.added + read.known + read.refused === 0) throw new Problem("invalid", "the file holds no entry", "choose a file with one entry a line");
  return read;
}

interface Line {
  number: number;
  entry: unknown; // undefined where the line is no JSON
}

function lineOf(number: number, text: string): Line {
  try {
    return { number, entry: JSON.parse(text) as unknown };
  } catch {
    return { number, entry: undefined };
  }
}

async function keepBatch(batch: Line[], read: JournalRead): Promise<void> {
  if (batch.length === 0) return;
  const refuse = (line: number, reason: string, hint: string) => {
    read.refused++;
    if (read.why.length < MOST_SHOWN) read.why.push({ line, reason, hint });
  };
  const lines = batch.filter(({ number, entry }) => {
    if (entry === undefined) refuse(number, "this line is no entry", "it may be cut off: save the file anew where it comes from");
    return entry !== undefined;
  });
  const { refused } = await call("add-entries", { entries: lines.map(({ entry }) => entry as Entry), check: true });
  const faults = new Map((refused ?? []).map((fault) => [fault.index, fault]));
  for (const [index, { reason, hint }] of faults) refuse(lines[index]?.number ?? 0, reason, hint);
  const good = lines.filter((_, index) => !faults.has(index)).map(({ number, entry }) => ({ number, entry: entry as Entry }));
  const held = new Map((await store.entries(good.map(({ entry }) => entry.id))).map((entry) => [entry.id, entry]));
  const added = new Map<string, Entry>();
  for (const { number, entry } of good) {
    const here = held.get(entry.id) ?? added.get(entry.id);
    if (!here) added.set(entry.id, entry);
    else if (sameValue(here, entry)) read.known++;
    else refuse(number, "another entry with this id is here already", "one of the two was altered: the one here is kept");
  }
  if (added.size > 0) await save([...added.values()]);
  read.added += added.size;
}

/** sameValue compares JSON values; the order of members does not matter. */
function sameValue(a: unknown, b: unknown): boolean {
  if (typeof a !== "object" || typeof b !== "object" || a === null || b === null) return a === b;
  const [inA, inB] = [Object.entries(a), new Map(Object.entries(b))];
  return Array.isArray(a) === Array.isArray(b) && inA.length === inB.size && inA.every(([name, value]) => inB.has(name) && sameValue(value, inB.get(name)));
}
