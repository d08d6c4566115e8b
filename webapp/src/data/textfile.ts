// Text files that other programs wrote: bytes to text, whatever they wrote it in.

import { Problem } from "../core/problem";

/** How much of a file is looked at first, in bytes; the core needs no more to see how a log is written. */
export const HEAD_BYTES = 64 << 10;

/**
 * encodingOf tells how a text is encoded from its first bytes: UTF-16 begins
 * with its mark; what is no UTF-8 is taken for the usual one-byte encoding of
 * western spreadsheets.
 */
export function encodingOf(head: Uint8Array): string {
  if (head[0] === 0xff && head[1] === 0xfe) return "utf-16le";
  if (head[0] === 0xfe && head[1] === 0xff) return "utf-16be";
  try {
    new TextDecoder("utf-8", { fatal: true }).decode(head, { stream: true }); // a character may be cut at the end
    return "utf-8";
  } catch {
    return head.includes(0) ? "utf-8" : "windows-1252"; // with a nought it is no text: the core says so
  }
}

const SURELY_TEXT = 512; // characters: pictures and programs have noughts before that

/** withoutNoughts marks noughts, which no call takes: a logger that lost its power leaves some, and the core tells the rows. */
function withoutNoughts(text: string): string {
  return text.replaceAll("\0", "\ufffd");
}

/** beginningOf reads the beginning of a file as text, or all of it; it rejects with a Problem where that is none. */
export async function beginningOf(file: Blob, bytes: number): Promise<{ text: string; whole: boolean }> {
  const whole = file.size <= bytes;
  const head = new Uint8Array(await file.slice(0, bytes).arrayBuffer());
  const text = new TextDecoder(encodingOf(head)).decode(head, { stream: !whole }).replace(/\0+$/, "");
  const archive = text.startsWith("PK"); // the core says what that is
  if (!archive && text.slice(0, SURELY_TEXT).includes("\0")) {
    throw new Problem("invalid", "the file is not text", "choose the table itself, saved as CSV");
  }
  return { text: withoutNoughts(text), whole };
}

/** piecesOf reads a file as text in pieces of about size bytes, each with how many bytes were read up to its end. */
export async function* piecesOf(file: Blob, encoding: string, size: number): AsyncGenerator<{ text: string; bytes: number }> {
  const decoder = new TextDecoder(encoding);
  for (let at = 0; at < file.size; at += size) {
    const end = Math.min(at + size, file.size);
    const text = decoder.decode(await file.slice(at, end).arrayBuffer(), { stream: end < file.size });
    yield { text: withoutNoughts(text), bytes: end };
  }
}
