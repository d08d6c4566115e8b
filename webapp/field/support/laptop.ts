// The laptop in the pits: the real program, and what a person reads on its terminal.

import type { ChildProcess } from "node:child_process";
import { once } from "node:events";
import { join, resolve } from "node:path";
import { binary, type Entry } from "../../e2e/support/server";
import type { Host } from "./network";

/** Programs that the tests bring along: bin/intruder and bin/whohas. */
export const tool = (name: string) => resolve(process.env.PACKWRIGHT_TOOLS ?? "../bin", name);

const SAVE = "fetch(process.argv[1]).then(async (r) => require('fs').writeFileSync(process.argv[2], Buffer.from(await r.arrayBuffer())))";

export class Laptop {
  #server: ChildProcess;
  #ended: Promise<unknown>;
  #printed = "";
  #log = "";

  private constructor(readonly host: Host) {
    this.#server = host.start(binary, "serve", "--lan", "--name", "pit", "--data", this.#data);
    this.#server.stdout?.on("data", (text) => (this.#printed += text));
    this.#server.stderr?.on("data", (text) => (this.#log += text));
    this.#ended = once(this.#server, "exit");
  }

  get #data(): string {
    return join(this.host.folder, "data");
  }

  /** start serves, with the address and name as people would do it, and waits for what the terminal says. */
  static async start(host: Host): Promise<Laptop> {
    const laptop = new Laptop(host);
    const failed = laptop.#ended.then(() => Promise.reject(new Error(`the server ended: ${laptop.#log}`)));
    failed.catch(() => {}); // later, when it is stopped on purpose
    while (!laptop.#printed.includes("and joins with a code")) {
      await Promise.race([once(laptop.#server.stdout ?? laptop.#server, "data"), failed]);
    }
    // what the welcome page gives as /ca.crt, fetched without a browser
    await laptop.host.run(process.execPath, "-e", SAVE, `http://127.0.0.1:8088/ca.crt`, laptop.root);
    return laptop;
  }

  /** What the terminal shows, in the words it uses. */
  get terminal(): { welcome: string; origin: string; fingerprint: string } {
    const find = (pattern: RegExp) => pattern.exec(this.#printed)?.[1] ?? "";
    return {
      welcome: find(/scan this, or open (\S+)/),
      origin: find(/then it opens (\S+)/),
      fingerprint: [...this.#printed.matchAll(/^ {2}((?:[0-9A-F]{2}:){7}[0-9A-F]{2})$/gm)].map((line) => line[1]).join(":"),
    };
  }

  /** The file of its certificate, from the welcome page. */
  get root(): string {
    return join(this.host.folder, "ca.crt");
  }

  get log(): string {
    return this.#log;
  }

  /** invite runs packwright invite in another window and gives the code that it shows. */
  async invite(...flags: string[]): Promise<string> {
    const shown = await this.host.run(binary, "invite", "--data", this.#data, ...flags);
    return /^ {2}([0-9A-Z]{4}-[0-9A-Z]{4})$/m.exec(shown)?.[1] ?? "";
  }

  /** stop ends the program as Ctrl-C does and reads the journal it leaves. */
  async stop(): Promise<Entry[]> {
    this.#server.kill("SIGINT");
    await this.#ended;
    const lines = await this.host.run(binary, "journal", "--data", this.#data);
    return lines.split("\n").filter(Boolean).map((line) => JSON.parse(line) as Entry);
  }
}
