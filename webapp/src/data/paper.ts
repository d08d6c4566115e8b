// Papers that the server draws. A tab that opens a PDF shows neither a problem
// nor a warning of ours, so the server is asked before.

import { Problem } from "../core/problem";
import { Later, parseObject, stranger, wordsOf } from "./api";

const TIMEOUT_MS = 60_000; // a slow machine draws hundreds of labels

/** checkPaper makes the server draw a PDF and gives what it says of it; it rejects with a Problem where there is none. */
export async function checkPaper(address: string): Promise<string[]> {
  let response: Response;
  try {
    response = await fetch(address, { cache: "no-store", redirect: "error", signal: AbortSignal.timeout(TIMEOUT_MS) });
  } catch {
    throw new Later("the server cannot be reached", false, 0, "it draws the pages: print while it is in reach");
  }
  if (response.ok && response.headers.get("Content-Type") === "application/pdf") {
    void response.body?.cancel();
    return warningsOf(response.headers.get("Packwright-Warning"));
  }
  const words = wordsOf(parseObject(await response.text()));
  if (!words) throw stranger();
  throw new Problem("invalid", words.text, words.hint);
}

/** warningsOf separates the sentences, which the browser joins by commas: those inside are percent-encoded. */
export function warningsOf(header: string | null): string[] {
  return header ? header.split(",").map((sentence) => decodeURIComponent(sentence.trim())) : [];
}
