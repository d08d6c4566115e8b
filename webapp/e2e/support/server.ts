// The real server, one process for each test, always at the same address: the
// address is the phone's storage.

import { type ChildProcess, execFile, spawn } from "node:child_process";
import { once } from "node:events";
import { existsSync, mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { createServer, type RequestListener, type Server as HTTPServer } from "node:http";
import { createServer as createSocketServer } from "node:net";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { promisify } from "node:util";

export interface Entry {
  id: string;
  v: number;
  kind: string;
  pack: string;
  device: string;
  by: string;
  hlc: string;
  body: Record<string, unknown>;
}

export interface PushResult {
  id: string;
  status: string;
  seq?: number;
  reason?: string;
  hint?: string;
}

/** The program under test: bin/packwright, or what PACKWRIGHT_BIN names. */
export const binary = resolve(process.env.PACKWRIGHT_BIN ?? "../bin/packwright");

/** packwright runs a command of the program and gives what it printed. */
export async function packwright(...args: string[]): Promise<string> {
  return (await promisify(execFile)(binary, args)).stdout;
}

export class Server {
  readonly data = mkdtempSync(join(tmpdir(), "packwright-e2e-"));
  readonly port: number;
  readonly origin: string;
  #process: ChildProcess | null = null;
  #standIn: HTTPServer | null = null;
  readonly #flags: string[];

  private constructor(port: number, flags: string[]) {
    this.port = port;
    this.origin = `http://127.0.0.1:${port}`;
    this.#flags = flags;
  }

  /** create starts a server with an empty database, and with further flags. */
  static async create(...flags: string[]): Promise<Server> {
    if (!existsSync(binary)) throw new Error(`${binary} is missing: run make build`);
    const server = new Server(await freePort(), flags);
    await server.start();
    return server;
  }

  /** start runs the program, or another version of it, and waits until it answers. */
  async start(program = binary): Promise<void> {
    await this.#endStandIn();
    const started = spawn(program, ["serve", "--data", this.data, "--listen", `127.0.0.1:${this.port}`, ...this.#flags], {
      stdio: ["ignore", "pipe", "pipe"],
    });
    this.#process = started;
    if (process.env.PACKWRIGHT_STALL) void stall(started);
    let said = "";
    started.stderr.on("data", (text) => (said += text));
    const failed = once(started, "exit").then(() => Promise.reject(new Error(`the server ended: ${said}`)));
    failed.catch(() => {}); // later, when it is stopped on purpose
    await Promise.race([once(started.stdout, "data"), failed]);
  }

  /** stop ends the program as a person would: after it the address refuses connections. */
  stop(): Promise<void> {
    return this.#end("SIGTERM");
  }

  /** kill ends the program without warning. */
  kill(): Promise<void> {
    return this.#end("SIGKILL");
  }

  async #end(signal: NodeJS.Signals): Promise<void> {
    const ending = this.#process;
    this.#process = null;
    if (!ending || ending.exitCode !== null || ending.signalCode !== null) return;
    const ended = once(ending, "exit");
    ending.kill(signal);
    await ended;
  }

  /** standIn stops the program and lets something else answer at its address. */
  async standIn(answer: RequestListener): Promise<void> {
    await this.stop();
    this.#standIn = createServer(answer).listen(this.port, "127.0.0.1");
    await once(this.#standIn, "listening");
  }

  async #endStandIn(): Promise<void> {
    const ending = this.#standIn;
    this.#standIn = null;
    if (!ending) return;
    const closed = once(ending, "close");
    ending.close();
    ending.closeAllConnections();
    await closed;
  }

  /** forget deletes the database of a stopped server. */
  forget(): void {
    rmSync(this.data, { recursive: true, force: true });
    mkdirSync(this.data);
  }

  /** close ends everything and deletes the data. */
  async close(): Promise<void> {
    await this.kill();
    await this.#endStandIn();
    rmSync(this.data, { recursive: true, force: true });
    rmSync(`${this.data}-keys`, { recursive: true, force: true });
  }

  /** health is the server's own count of what it holds. */
  async health(): Promise<{ epoch: string; head: number }> {
    return (await this.#get("/api/v1/health")) as { epoch: string; head: number };
  }

  /** entries reads everything the server holds, page by page, in its order. */
  async entries(): Promise<Entry[]> {
    const all: Entry[] = [];
    const { epoch } = await this.health();
    for (let after = 0; ; ) {
      const page = (await this.#get(`/api/v1/entries?epoch=${epoch}&after=${after}&limit=1000`)) as {
        entries: { seq: number; entry: Entry }[];
        next: number;
        more: boolean;
      };
      all.push(...page.entries.map((item) => item.entry));
      if (!page.more) return all;
      after = page.next;
    }
  }

  /** push brings entries as a phone would, and wants every one accepted. */
  async push(entries: Entry[]): Promise<void> {
    for (let at = 0; at < entries.length; at += 200) {
      const response = await fetch(`${this.origin}/api/v1/entries`, {
        method: "POST",
        headers: { "Content-Type": "application/json", "Packwright-Device": "00000000000000ee" },
        body: JSON.stringify({ entries: entries.slice(at, at + 200) }),
      });
      const { results } = (await response.json()) as { results: PushResult[] };
      const bad = results.find((result) => result.status !== "accepted");
      if (bad) throw new Error(`the server did not accept a test's own entry: ${JSON.stringify(bad)}`);
    }
  }

  async #get(path: string): Promise<unknown> {
    const response = await fetch(this.origin + path);
    if (!response.ok) throw new Error(`${path}: status ${response.status}: ${await response.text()}`);
    return response.json();
  }
}

/** stall halts a program again and again, as a busy machine does: it finds what a journey takes for granted. */
async function stall(program: ChildProcess): Promise<void> {
  while (program.exitCode === null && program.signalCode === null) {
    await sleep(1000 * Math.random());
    program.kill("SIGSTOP");
    await sleep(1000 + 1000 * Math.random());
    program.kill("SIGCONT");
  }
}

/** freePort finds a port below those that systems give to outgoing connections: nobody takes it while the server is stopped. */
export async function freePort(): Promise<number> {
  for (;;) {
    const port = 20_000 + Math.floor(Math.random() * 10_000);
    const probe = createSocketServer();
    const free = await new Promise<boolean>((tell) => {
      probe.once("error", () => tell(false));
      probe.listen(port, "127.0.0.1", () => tell(true));
    });
    await new Promise((closed) => probe.close(closed));
    if (free) return port;
  }
}
