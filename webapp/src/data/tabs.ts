// What open tabs of the app tell each other.

/** What one tab did that the others should show. */
export interface Told {
  added?: string[]; // ids of entries it stored
  discarded?: true; // it deleted entries
  outbox?: true; // it changed the outbox
  prefs?: true; // it changed a setting
  synced?: number; // it exchanged everything with the server, unix ms
  wiped?: true; // it is about to delete everything
}

let channel: BroadcastChannel | null = null;

/** listenToTabs hears what other tabs tell. */
export function listenToTabs(hear: (told: Told) => void): void {
  if (typeof BroadcastChannel === "undefined") return;
  channel = new BroadcastChannel("packwright");
  channel.onmessage = (event: MessageEvent<Told>) => hear(event.data);
}

/** tellTabs tells all other tabs. */
export function tellTabs(told: Told): void {
  channel?.postMessage(told);
}
