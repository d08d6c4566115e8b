// The worker that runs the Go core. It loads core.wasm and answers
// {id, name, request} with {id, answer} or {id, problem}; see protocol.ts.

import "go:wasm_exec";
import { shifts, zoneNow } from "./here";
import { type FromWorker, LOADED, type ToWorker } from "./protocol";
import type { Calls } from "./types";

/** The loader's class, as far as it is used here. */
declare const Go: new () => { importObject: WebAssembly.Imports; run(instance: WebAssembly.Instance): Promise<void> };

/** Set by webapp/core: JSON text in, JSON text of the answer or of the problem out. */
type CoreCall = (name: string, request: string) => { answer: string } | { problem: string };

const scope = self as unknown as DedicatedWorkerGlobalScope & { packwrightCall?: CoreCall };

function send(message: FromWorker): void {
  scope.postMessage(message);
}

function crash(why: unknown): void {
  send({ crash: why instanceof Error ? why.message : String(why) });
}

let zone = ""; // where the core thinks it is

/** What the core is told of where this phone is. */
function here(): string {
  zone = zoneNow();
  return JSON.stringify({ shifts: shifts() } satisfies Calls["here"]["request"]);
}

async function load(): Promise<CoreCall> {
  const go = new Go();
  const loading = WebAssembly.instantiateStreaming(fetch(CORE_WASM_URL), go.importObject);
  const place = here(); // while the core is on its way
  const { instance } = await loading;
  go.run(instance).then(() => crash("the core ended"), crash);
  if (!scope.packwrightCall) throw new Error("the core did not start");
  scope.packwrightCall("here", place);
  return scope.packwrightCall;
}

function answer(core: CoreCall, { id, name, request }: ToWorker): void {
  if (zoneNow() !== zone) core("here", here()); // after a journey
  const result = core(name, request);
  if (!result) return; // the Go program ended inside this call; run() reports it
  if ("answer" in result) send({ id, answer: result.answer });
  else send({ id, problem: JSON.parse(result.problem) });
}

const loaded = load();
loaded.then(() => send({ id: LOADED, answer: "null" }), crash);
scope.onmessage = async (event: MessageEvent<ToWorker>) => {
  try {
    answer(await loaded, event.data);
  } catch (thrown) {
    crash(thrown);
  }
};
