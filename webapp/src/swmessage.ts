// What a page asks of the service worker.

export type ToServiceWorker =
  | { type: "SKIP_WAITING" } // the user agreed to the new version
  | { type: "TIDY"; script: string }; // a page runs script: files of older versions may go
