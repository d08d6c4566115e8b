// Offline use and updates of the app itself.
//
// A new version is fetched in the background and waits: it must never take a
// half-filled form away. It starts when the user says so, in this tab; other
// tabs go on with the old one until they are reloaded.

import type { Workbox } from "workbox-window";
import { asProblem } from "../core/problem";
import type { ToServiceWorker } from "../swmessage";
import { flushDrafts } from "./drafts";
import { offlineProblem, tier, tooOld, updatePutOff, updateWaiting } from "./status";

const CHECK_MS = 3_600_000;
const SWITCH_PATIENCE_MS = 3000;
const RETRY_MS = 2000; // doubles

let accept: (() => void) | null = null; // tells the waiting version to start
let accepted = false;
let current: Workbox | null = null; // that registered the app

/** registerServiceWorker makes the app work offline, or says in offlineProblem why it cannot. */
export async function registerServiceWorker(): Promise<void> {
  if (!("serviceWorker" in navigator)) {
    offlineProblem.value = isSecureContext
      ? "this browser cannot keep the app for offline use"
      : "no, over plain http a browser keeps no app";
    return;
  }
  watchController(navigator.serviceWorker);
  setInterval(check, CHECK_MS);
  tooOld.subscribe((old) => old && check());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && check());
  await keep(RETRY_MS);
}

/** keep has the browser keep the app. A network that breaks off meanwhile leaves nothing of the first copy, so it is tried again. */
async function keep(retryMS: number): Promise<void> {
  const tryAgain = () => setTimeout(() => void keep(Math.min(2 * retryMS, CHECK_MS)), retryMS);
  try {
    const { Workbox } = await import("workbox-window");
    const workbox = new Workbox("/sw.js");
    workbox.addEventListener("waiting", () => {
      offer(() => workbox.messageSkipWaiting());
    });
    workbox.addEventListener("activated", () => (offlineProblem.value = null));
    workbox.addEventListener("redundant", () => {
      if (navigator.serviceWorker.controller) return; // an older copy is still there
      offlineProblem.value = "not yet, the connection broke off: it is tried again";
      tryAgain();
    });
    await workbox.register();
    current = workbox;
    tidy(navigator.serviceWorker);
  } catch (thrown) {
    // A certificate warning that was clicked away lets the page load but not this.
    const untrusted = thrown instanceof Error && thrown.name === "SecurityError";
    if (untrusted && tier.value === "trusted") tier.value = "clicked";
    offlineProblem.value = untrusted
      ? "no, this device does not trust the server's certificate"
      : `the app could not be kept for offline use (${asProblem(thrown).text})`;
    if (!untrusted) tryAgain();
  }
}

function check(): void {
  current?.update().catch(() => {}); // offline: another time
}

/** putUpdateOff stops asking until the next start or the next version; Set-up still offers it. */
export function putUpdateOff(): void {
  updateWaiting.value = false;
  updatePutOff.value = true;
}

function offer(start: (() => void) | null): void {
  accept = start;
  updateWaiting.value = true;
  updatePutOff.value = false;
}

/** applyUpdate saves the drafts, starts the waiting version and reloads the page with it. */
export async function applyUpdate(): Promise<void> {
  await flushDrafts();
  if (!accept) return location.reload(); // another tab has started it
  accepted = true;
  accept();
  setTimeout(() => location.reload(), SWITCH_PATIENCE_MS);
}

function watchController(container: ServiceWorkerContainer): void {
  let controlled = container.controller !== null;
  container.addEventListener("controllerchange", () => {
    if (accepted) location.reload();
    else if (controlled) offer(null); // another tab started a new version
    controlled = true;
  });
}

/** tidy lets the service worker drop older versions that no tab runs. */
function tidy(container: ServiceWorkerContainer): void {
  container.controller?.postMessage({ type: "TIDY", script: import.meta.url } satisfies ToServiceWorker);
}
