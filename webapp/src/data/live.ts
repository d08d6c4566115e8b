// The server's live stream: word of new entries, in one visible tab at a time.
// Browsers allow few connections to one server, so hidden tabs hold none.

import { access, tier, wiped } from "./status";
import { nudgeSync } from "./sync";

const LOCK = "packwright-live";
const REOPEN_MS = 30_000; // after the stream was refused

/** followLive listens to the server whenever this tab is visible. */
export function followLive(): void {
  if (tier.value === "plain") return;
  let hidden = new AbortController();
  const change = () => {
    hidden.abort();
    if (document.visibilityState === "hidden") return;
    hidden = new AbortController();
    void listen(hidden.signal);
  };
  document.addEventListener("visibilitychange", change);
  change();
}

async function listen(until: AbortSignal): Promise<void> {
  const hold = () => stream(until);
  try {
    if (navigator.locks) await navigator.locks.request(LOCK, { signal: until }, hold);
    else await hold();
  } catch {
    // hidden while it waited for its turn
  }
}

/** stream keeps the live stream open until the signal; it resolves then. */
function stream(until: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    let source: EventSource | undefined;
    let timer: ReturnType<typeof setTimeout>;
    const open = () => {
      if (wiped.value || !["unknown", "joined"].includes(access.value)) {
        timer = setTimeout(open, REOPEN_MS);
        return;
      }
      const opened = (source = new EventSource("/api/v1/live"));
      opened.onmessage = nudgeSync; // at once on opening, then after every commit
      opened.onerror = () => {
        // The browser tries again by itself unless the answer was no stream at all.
        if (opened.readyState === EventSource.CLOSED) timer = setTimeout(open, REOPEN_MS);
      };
    };
    open();
    until.addEventListener("abort", () => {
      clearTimeout(timer);
      source?.close();
      resolve();
    });
  });
}
