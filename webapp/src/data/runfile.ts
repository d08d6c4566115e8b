// A logger's file, worked out in a worker of its own: however long it is, the
// app's core stays free for everything else, and giving up ends the worker.

import { Bridge, call } from "../core/bridge";
import type { RunFormat, RunOptions, RunPreview, RunResult } from "../core/types";
import { beginningOf, encodingOf, HEAD_BYTES, piecesOf } from "./textfile";

const PIECE_BYTES = 128 << 10; // small enough that the page hardly notices handing it over

/** lookAtRun shows how a file would be read; a person may have corrected the format. */
export async function lookAtRun(file: Blob, cells: number, format?: RunFormat): Promise<RunPreview> {
  const { text, whole } = await beginningOf(file, HEAD_BYTES);
  return call("run-look", { head: text, whole, cells, ...(format && { format }) });
}

/** How far the reading is. */
export interface Progress {
  share: number; // of the file, 0 to 1
  rows: number;
}

/** A file being read. */
export interface Reading {
  result: Promise<RunResult | null>; // null once it was given up
  cancel: () => void;
}

/** readRun reads a whole file; the result rejects with a Problem. */
export function readRun(file: Blob, format: RunFormat, options: RunOptions, onProgress: (progress: Progress) => void): Reading {
  const core = new Bridge(() => new Worker(CORE_WORKER_URL));
  let cancelled = false;
  const work = async () => {
    try {
      await core.start(async () => {});
      await core.call("run-open", { format, options });
      const encoding = encodingOf(new Uint8Array(await file.slice(0, HEAD_BYTES).arrayBuffer()));
      for await (const { text, bytes } of piecesOf(file, encoding, PIECE_BYTES)) {
        const { rows } = await core.call("run-write", { text });
        onProgress({ share: bytes / file.size, rows });
      }
      return await core.call("run-finish", {});
    } catch (thrown) {
      if (cancelled) return null;
      throw thrown;
    } finally {
      core.stop();
    }
  };
  const cancel = () => {
    cancelled = true;
    core.stop();
  };
  return { result: work(), cancel };
}
