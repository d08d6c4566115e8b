// The last words of a run: each failure in a few lines, for whoever sees only
// the end of a log.

import type { FullResult, Reporter, TestCase, TestResult } from "@playwright/test/reporter";
import { stripVTControlCharacters } from "node:util";

const LINES = 8;

export default class Summary implements Reporter {
  readonly #failed: string[] = [];

  onTestEnd(test: TestCase, result: TestResult): void {
    if (result.status === test.expectedStatus || result.status === "skipped") return;
    const said = stripVTControlCharacters(result.error?.message ?? result.status).split("\n").filter(Boolean);
    const where = result.error?.location;
    const line = where ? ` line ${where.line}` : "";
    this.#failed.push(`${test.location.file.split("/").at(-1)}${line}, try ${result.retry + 1}: ${test.title}\n  ${said.slice(0, LINES).join("\n  ")}`);
  }

  onEnd(result: FullResult): void {
    if (this.#failed.length === 0) return;
    console.log(`\nIn short (${result.status}):\n${this.#failed.join("\n")}`);
  }
}
