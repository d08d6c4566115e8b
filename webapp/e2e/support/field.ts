// The server as phones meet it on a network, and browsers that take its name
// for this machine: trusting its certificate, having clicked a warning away, or
// over plain http.

import { type Browser, type BrowserContext, type BrowserType, test as base } from "@playwright/test";
import { freePort, Server } from "./server";
import { watch } from "./test";

/** What the person with the laptop uses to let devices in: the API on loopback, which needs no sign-in. */
export class Field {
  private constructor(
    readonly server: Server,
    readonly https: string, // origin
    readonly plain: string, // origin of the welcome page
  ) {}

  static async create(): Promise<Field> {
    const [https, plain] = [await freePort(), await freePort()];
    const server = await Server.create("--lan", "--name", "pit", "--https", `127.0.0.1:${https}`, "--welcome", `127.0.0.1:${plain}`);
    return new Field(server, `https://pit.local:${https}`, `http://pit.local:${plain}`);
  }

  /** invite gives the address of an invitation. */
  async invite(role: "crew" | "lead" = "crew"): Promise<string> {
    return (await this.post("/api/v1/invitations", { role })).url as string;
  }

  async devices(): Promise<{ id: string; name: string; role: string; unsent: number; revoked_ms?: number }[]> {
    const response = await fetch(`${this.server.origin}/api/v1/devices`);
    return ((await response.json()) as { devices: [] }).devices;
  }

  /** change is what a lead does to the device of a name. */
  async change(name: string, change: object): Promise<void> {
    const device = (await this.devices()).find((known) => known.name === name);
    await this.post("/api/v1/devices/change", { id: device?.id, ...change });
  }

  async post(path: string, body: object): Promise<Record<string, unknown>> {
    const response = await fetch(this.server.origin + path, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
    });
    if (!response.ok) throw new Error(`${path}: status ${response.status}: ${await response.text()}`);
    return (await response.json()) as Record<string, unknown>;
  }
}

type Trust = "trusting" | "clicking"; // the server's certificate

interface Fixtures {
  field: Field;
  faults: string[];
  /** A browser that takes pit.local for this machine; its paths are those of the encrypted address, or of another origin. */
  fieldPhone: (trust: Trust, origin?: string) => Promise<BrowserContext>;
}

export const test = base.extend<Fixtures>({
  field: async ({}, use) => {
    const field = await Field.create();
    await use(field);
    await field.server.close();
  },
  faults: async ({}, use) => {
    const faults: string[] = [];
    await use(faults);
    base.expect(faults, "faults that no page caught").toEqual([]);
  },
  fieldPhone: async ({ playwright, field, faults }, use, info) => {
    const browsers: Browser[] = [];
    await use(async (trust, baseURL = field.https) => {
      const browser = await launch(playwright.chromium, trust, info.project.use.launchOptions);
      browsers.push(browser);
      const { viewport, hasTouch, isMobile } = info.project.use;
      const context = await browser.newContext({ baseURL, viewport, hasTouch, isMobile, ignoreHTTPSErrors: trust === "clicking" });
      watch(context, faults);
      return context;
    });
    await Promise.all(browsers.map((browser) => browser.close()));
  },
});

/** launch starts a browser. Errors that are ignored for a context are as if clicked away: service workers still see them. */
function launch(chromium: BrowserType, trust: Trust, options: { executablePath?: string; args?: string[] } = {}): Promise<Browser> {
  const args = [...(options.args ?? []), "--host-resolver-rules=MAP pit.local 127.0.0.1"];
  if (trust === "trusting") args.push("--ignore-certificate-errors");
  return chromium.launch({ ...options, args });
}
