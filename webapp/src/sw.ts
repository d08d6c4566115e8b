// The service worker: keeps every file of the app on the phone, so that it
// opens without a server. It never touches /api/. A new version waits until the
// user agrees, and the files of the old one stay while a tab may still need them.

import { PrecacheController, PrecacheRoute } from "workbox-precaching";
import { NavigationRoute, registerRoute } from "workbox-routing";
import type { ToServiceWorker } from "./swmessage";

const scope = self as unknown as ServiceWorkerGlobalScope;

const files = new PrecacheController();
files.addToCacheList(PRECACHE);

registerRoute(new PrecacheRoute(files));
registerRoute(new NavigationRoute(files.createHandlerBoundToURL("/index.html"), { denylist: [/^\/api\//i, /^\/licences\.txt$/] }));

// A file of an older version, asked for by a tab that still runs it.
registerRoute(
  ({ url, sameOrigin }) => sameOrigin && url.pathname.startsWith("/assets/"),
  async ({ request }) => (await caches.match(request)) ?? fetch(request),
);

scope.addEventListener("install", (event) => void files.install(event));
scope.addEventListener("activate", (event) => event.waitUntil(scope.clients.claim()));
scope.addEventListener("message", (event) => {
  const message = event.data as ToServiceWorker;
  if (message.type === "SKIP_WAITING") void scope.skipWaiting();
  if (message.type === "TIDY") event.waitUntil(tidy(event, message.script));
});

/** tidy deletes the files of other versions if the only open tab runs this one. A newer version that waits keeps its own. */
async function tidy(event: ExtendableEvent, script: string): Promise<void> {
  if (scope.registration.installing || scope.registration.waiting) return;
  const tabs = await scope.clients.matchAll({ type: "window", includeUncontrolled: true });
  if (tabs.length === 1 && files.getCacheKeyForURL(script)) await files.activate(event);
}
