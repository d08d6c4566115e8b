// A phone on the network: a browser with its own storage and its own list of trusted
// certificates, and the thumb of whoever holds it.

import { execFileSync } from "node:child_process";
import { chmodSync, mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { type BrowserContext, type BrowserType, devices, expect, type Locator, type Page } from "@playwright/test";
import { field as input, lamp } from "../../e2e/support/app";
import { watch } from "../../e2e/support/test";
import { type Laptop, tool } from "./laptop";
import type { Host } from "./network";

const { userAgent } = devices["Pixel 7"]; // the welcome page then tells what an Android phone needs

export class Phone {
  #context: BrowserContext | null = null;
  readonly faults: string[] = [];
  taps = 0;
  typed = 0; // characters

  constructor(
    readonly host: Host,
    readonly chromium: BrowserType,
    readonly use: { viewport?: { width: number; height: number } | null; launchOptions?: { executablePath?: string; args?: string[] } },
  ) {
    mkdirSync(this.#database, { recursive: true });
    execFileSync("certutil", ["-N", "-d", `sql:${this.#database}`, "--empty-password"]);
    const [program, args] = host.wrap(use.launchOptions?.executablePath ?? "chromium");
    writeFileSync(this.#launcher, `#!/bin/sh\nexec ${program} ${args.join(" ")} "$@"\n`);
    chmodSync(this.#launcher, 0o700);
  }

  get #database(): string {
    return join(this.host.folder, ".pki", "nssdb");
  }

  get #launcher(): string {
    return join(this.host.folder, "browser");
  }

  /** open starts the browser with what it stored before, and gives its page. */
  async open(): Promise<Page> {
    this.#context = await this.chromium.launchPersistentContext(join(this.host.folder, "profile"), {
      ...this.use.launchOptions,
      executablePath: this.#launcher,
      env: { ...process.env, HOME: this.host.folder },
      viewport: this.use.viewport,
      baseURL: "https://pit.local:8443",
      deviceScaleFactor: 2,
      hasTouch: true,
      isMobile: true,
      userAgent,
    });
    this.#context.setDefaultTimeout(30_000);
    watch(this.#context, this.faults);
    return this.#context.pages()[0] ?? this.#context.newPage();
  }

  /** shut ends the browser: what is not stored is gone. */
  async shut(): Promise<void> {
    await this.#context?.close();
    this.#context = null;
  }

  /** ask asks the network for a name by multicast DNS, as a phone's system does. */
  async ask(name: string): Promise<string> {
    return (await this.host.run(tool("whohas"), name)).trim();
  }

  /** find asks for a name and remembers the answer. */
  async find(name: string): Promise<string> {
    const address = await this.ask(name);
    this.host.knows({ [name]: address });
    return address;
  }

  /** meet brings the phone to where first contact ends: it trusts the laptop and has joined. */
  async meet(laptop: Laptop, name: string, ...flags: string[]): Promise<Page> {
    await this.find("pit.local");
    this.trust(laptop.root);
    const page = await this.open();
    await page.goto("/join");
    await this.join(page, await laptop.invite(...flags), name);
    return page;
  }

  /** trust installs a certificate, for websites. */
  trust(file: string): void {
    execFileSync("certutil", ["-A", "-d", `sql:${this.#database}`, "-n", "pit", "-t", "C,,", "-i", file]);
  }

  async tap(what: Locator): Promise<void> {
    this.taps++;
    await what.click();
  }

  async type(what: Locator, text: string): Promise<void> {
    this.taps++;
    this.typed += text.length;
    await what.fill(text);
  }

  /** join types the code of an invitation and a name. */
  async join(page: Page, code: string, name: string): Promise<void> {
    await expect(page.getByRole("heading", { name: "Join the team" })).toBeVisible();
    await this.type(input(page, "code"), code);
    await this.type(input(page, "name"), name);
    await this.tap(page.getByRole("button", { name: "Join", exact: true }));
    await expect(page.getByText(`This device has joined as ${name}.`)).toBeVisible();
    await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
  }

  /** token is what a thief of this phone would have. */
  async token(): Promise<string> {
    const cookies = (await this.#context?.cookies()) ?? [];
    return cookies.find((cookie) => cookie.name === "__Host-packwright")?.value ?? "";
  }

  /** cdp talks to the browser itself. */
  async cdp(page: Page) {
    return page.context().newCDPSession(page);
  }
}

/** allSent waits until the app says that the server has everything. */
export async function allSent(page: Page): Promise<void> {
  await expect(lamp(page)).toHaveText("All sent", { timeout: 60_000 });
}
