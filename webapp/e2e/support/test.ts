// The test of every journey: a server of its own, phones that look at it, and a
// complaint about anything that went wrong in a page without being shown.

import { type BrowserContext, expect, type Page, test as base } from "@playwright/test";
import { Server } from "./server";

export { type BrowserContext, expect, type Locator, type Page } from "@playwright/test";

interface Fixtures {
  server: Server;
  /** Another phone: its own storage, or that of a phone it was cloned from; the same server. */
  newPhone: (cloneOf?: BrowserContext) => Promise<Page>;
  /** Faults that pages did not catch; the test fails if any are left at its end. */
  faults: string[];
}

export const test = base.extend<Fixtures>({
  server: async ({}, use) => {
    const server = await Server.create();
    await use(server);
    await server.close();
  },
  baseURL: async ({ server }, use) => use(server.origin),
  faults: async ({}, use) => {
    const faults: string[] = [];
    await use(faults);
    expect(faults, "faults that no page caught").toEqual([]);
  },
  context: async ({ context, faults }, use) => {
    watch(context, faults);
    await use(context);
  },
  newPhone: async ({ browser, faults }, use) => {
    const contexts: BrowserContext[] = [];
    await use(async (cloneOf) => {
      const context = await browser.newContext({ storageState: await cloneOf?.storageState({ indexedDB: true }) });
      contexts.push(context);
      watch(context, faults);
      return context.newPage();
    });
    await Promise.all(contexts.map((context) => context.close()));
  },
});

/** watch notes uncaught errors and what the content security policy blocked. */
export function watch(context: BrowserContext, faults: string[]): void {
  context.on("weberror", (fault) => faults.push(String(fault.error().stack ?? fault.error())));
  context.on("console", (line) => {
    if (line.type() === "error" && /Content Security Policy/.test(line.text())) faults.push(line.text());
  });
}
