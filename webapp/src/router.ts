// Where the app is, and how it moves.
import { signal } from "@preact/signals";

export const path = signal(location.pathname);

/** True once the person has touched the app: from then on focus follows to the heading. */
export const touched = signal(false);

/** Go to another screen. With replace, Back skips the one being left. */
export function go(to: string, replace = false): void {
  if (replace) history.replaceState(null, "", to);
  else history.pushState(null, "", to);
  arrive();
}

function arrive(): void {
  path.value = location.pathname;
  scrollTo(0, 0);
}

/** Follow Back and plain clicks on links of the app without loading a page. */
export function startRouter(): void {
  addEventListener("popstate", arrive);
  for (const sign of ["pointerdown", "keydown", "popstate"]) {
    addEventListener(sign, () => (touched.value = true), { capture: true, once: true });
  }
  document.addEventListener("click", (event) => {
    if (event.defaultPrevented || event.button !== 0 || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const link = (event.target as Element).closest?.("a");
    if (!link || link.target || link.hasAttribute("download") || link.origin !== location.origin) return;
    if (link.pathname.startsWith("/api/") || link.hash !== "") return;
    event.preventDefault();
    go(link.pathname);
  });
}
