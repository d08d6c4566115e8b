// The check of the welcome page, in browsers that do what people do: install the
// certificate, or tap through the warning.

import { execFileSync } from "node:child_process";
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import type { BrowserContext } from "@playwright/test";
import { type Field, test as base } from "./support/field";
import { expect } from "./support/test";

const test = base.extend<{ phone: (name: string, root?: Buffer) => Promise<BrowserContext> }>({
  /** A browser with its own list of trusted certificates, which root is put into. */
  phone: async ({ playwright }, use, info) => {
    const open: BrowserContext[] = [];
    await use(async (name, root) => {
      const home = info.outputPath(name);
      const database = join(home, ".pki", "nssdb");
      mkdirSync(database, { recursive: true });
      execFileSync("certutil", ["-N", "-d", `sql:${database}`, "--empty-password"]);
      if (root) {
        writeFileSync(join(home, "ca.crt"), root);
        execFileSync("certutil", ["-A", "-d", `sql:${database}`, "-n", "pit", "-t", "C,,", "-i", join(home, "ca.crt")]);
      }
      const { launchOptions } = info.project.use;
      const context = await playwright.chromium.launchPersistentContext(join(home, "profile"), {
        ...launchOptions,
        args: [...(launchOptions?.args ?? []), "--host-resolver-rules=MAP pit.local 127.0.0.1"],
        env: { ...process.env, HOME: home },
        viewport: { width: 360, height: 740 },
      });
      open.push(context);
      return context;
    });
    await Promise.all(open.map((context) => context.close()));
  },
});

const rootOf = async (field: Field) => Buffer.from(await (await fetch(field.plain.replace("pit.local", "127.0.0.1") + "/ca.crt")).arrayBuffer());

test("not trusted, then tapped through: the check says so, and never that it is trusted", async ({ field, phone }) => {
  const context = await phone("tapping");
  const welcome = await context.newPage();
  await welcome.goto(field.plain);
  const state = welcome.locator("#state");
  await expect(state).toHaveAttribute("data-state", "no");

  const app = await context.newPage();
  await expect(app.goto(field.https)).rejects.toThrow("ERR_CERT_AUTHORITY_INVALID");
  await app.locator("#details-button").click();
  await app.locator("#proceed-link").click();
  await expect(app.getByRole("main")).toBeVisible(); // the browser's own warning is gone
  expect(new URL(app.url()).origin).toBe(field.https);

  await expect(state).toHaveAttribute("data-state", "tapped");
  await expect(state).toContainText("Tapped through the warning, not trusted");
  await welcome.waitForTimeout(4000); // and looks again
  await expect(state).toHaveAttribute("data-state", "tapped");
  await expect(welcome.getByRole("link", { name: "Open packwright" })).toBeHidden();
  await welcome.reload();
  await expect(state).toHaveAttribute("data-state", "tapped");
  // What the check tells apart: here the app cannot be kept for offline use.
  await expect(app.evaluate(() => navigator.serviceWorker.register("/sw.js"))).rejects.toThrow("SSL certificate error");
});

test("trusted: green, the way in is offered and the steps are folded", async ({ field, phone }) => {
  const welcome = await (await phone("trusting", await rootOf(field))).newPage();
  await welcome.goto(field.plain);
  await expect(welcome.locator("#state")).toHaveAttribute("data-state", "yes");
  await expect(welcome.getByRole("link", { name: "Open packwright" })).toHaveAttribute("href", `${field.https}/join`);
  await expect(welcome.locator("#rest")).not.toHaveAttribute("open");
  expect(await welcome.evaluate(() => document.documentElement.scrollHeight / innerHeight)).toBeLessThan(1.2);
});
