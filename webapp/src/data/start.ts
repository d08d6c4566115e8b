// Start-up of the data layer.

import { type Call, core } from "../core/bridge";
import { asProblem } from "../core/problem";
import { loadMembership } from "./access";
import { flushDrafts } from "./drafts";
import { addToFleet, feed, refreshOverview } from "./fleet";
import { followLive } from "./live";
import { refreshOutbox } from "./outbox";
import { readPersisted } from "./persist";
import { loadPrefs } from "./prefs";
import { access, lastSync, ready, saveProblem, startProblem, wiped } from "./status";
import { store } from "./store";
import { nudgeSync, syncNow } from "./sync";
import { listenToTabs, type Told } from "./tabs";

const FEED_ENTRIES = 500; // at once
const OVERVIEW_MS = 10 * 60_000; // days since a test go on without entries

/**
 * startData opens the journal, gives it to the core and starts the exchange
 * with the server. It never rejects: the outcome is in ready and startProblem.
 */
export async function startData(): Promise<void> {
  store.db.onBlocked = (text) => (startProblem.value = text);
  listenToTabs(hear);
  try {
    await Promise.all([core.start(feedAll), loadPrefs(), refreshOutbox(), readLastSync(), loadMembership(store)]);
    await refreshOverview();
    ready.value = "ready";
    performance.mark("packwright-ready"); // for the benchmarks
  } catch (thrown) {
    const { text, hint } = asProblem(thrown);
    startProblem.value = [text, hint].filter(Boolean).join(": ");
    ready.value = "failed";
    return; // entries stay on the phone; without a journal there is nothing to exchange
  }
  watchPage();
  followLive();
  void readPersisted();
  void syncNow();
  store.keepBallast().catch((thrown) => {
    saveProblem.value = `this device is nearly full: ${asProblem(thrown).hint}`;
  });
}

function feedAll(call: Call): Promise<void> {
  return store.eachBatch(FEED_ENTRIES, (entries) => feed(call, entries));
}

async function readLastSync(): Promise<void> {
  lastSync.value = await store.lastSync();
}

/** watchPage ties the data layer to what happens to the page and the phone. */
function watchPage(): void {
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") return void flushDrafts();
    nudgeSync();
    refresh();
  });
  addEventListener("pagehide", () => void flushDrafts());
  addEventListener("online", nudgeSync); // a hint only: the probe decides
  setInterval(refresh, OVERVIEW_MS);
}

/** refresh shows the fleet as of now; where the core fails, the next call to it says so. */
function refresh(): void {
  refreshOverview().catch(() => {});
}

/** hear takes over what another tab did. */
async function hear(told: Told): Promise<void> {
  try {
    if (told.wiped) {
      wiped.value = true;
      return await store.db.end();
    }
    if (told.synced) {
      lastSync.value = told.synced;
      if (access.value !== "joined") nudgeSync(); // that tab has joined
    }
    if (told.prefs) await loadPrefs();
    if (told.added) await addToFleet(await store.entries(told.added));
    if (told.discarded) {
      await core.renew();
      await refreshOverview();
    }
    if (told.added || told.outbox) await refreshOutbox();
  } catch (thrown) {
    startProblem.value = `what another tab saved is not shown here (${asProblem(thrown).text}): reload the app`;
  }
}
