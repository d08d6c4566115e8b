// A network of its own for each journey: network namespaces on one bridge, which
// nothing else can reach and which reaches nothing else.

import { type ChildProcess, execFile, execFileSync, spawn, spawnSync } from "node:child_process";
import { randomBytes } from "node:crypto";
import { existsSync, mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";

const PREFIX = "packwright-field-"; // then the process that made it
const NAMES = "/etc/netns"; // ip netns exec shows NAMES/NAMESPACE/hosts as /etc/hosts

/** whyNot says what keeps this machine from making networks, or gives null. In CI only a lack of rights is a reason. */
export function whyNot(): string | null {
  const missing = ["ip", "certutil"].filter((tool) => spawnSync(tool, ["-V"]).error);
  if (missing.length > 0 && !process.env.CI) return `there is no ${missing.join(", no ")}: run make tools`;
  const probe = `${PREFIX}${process.pid}-probe`;
  try {
    ip("netns", "add", probe);
    ip("netns", "del", probe);
    return null;
  } catch (thrown) {
    const said = String((thrown as { stderr?: Buffer }).stderr ?? thrown);
    if (/Operation not permitted|Permission denied|must be root/i.test(said)) return said.trim();
    throw thrown;
  }
}

export class Network {
  readonly #id = `${PREFIX}${process.pid}-${randomBytes(2).toString("hex")}`;
  readonly #bridge = `${this.#id}-bridge`;
  readonly #hosts: Host[] = [];
  /** A folder for everything that the machines of this network store. */
  readonly folder = mkdtempSync(join(tmpdir(), PREFIX));

  static open(): Network {
    sweep();
    const network = new Network();
    ip("netns", "add", network.#bridge);
    ip("-n", network.#bridge, "link", "add", "bridge", "type", "bridge");
    ip("-n", network.#bridge, "link", "set", "bridge", "up");
    return network;
  }

  /** add puts a machine on the network; the address is of a /24 network. */
  add(name: string, address: string): Host {
    const host = new Host(name, `${this.#id}-${name}`, join(this.folder, name));
    this.#hosts.push(host);
    ip("netns", "add", host.namespace);
    // Addresses of IPv6 that come by themselves seconds later are changes of the network to a browser, which breaks its requests off.
    ip("netns", "exec", host.namespace, "sh", "-c", "for f in /proc/sys/net/ipv6/conf/*/disable_ipv6; do echo 1 > $f; done");
    ip("-n", this.#bridge, "link", "add", name, "type", "veth", "peer", "name", "wlan0", "netns", host.namespace);
    ip("-n", this.#bridge, "link", "set", name, "master", "bridge", "up");
    ip("-n", host.namespace, "link", "set", "lo", "up");
    host.linkUp();
    host.move(address);
    return host;
  }

  /** close ends every process on the network and takes it away. */
  close(): void {
    for (const namespace of [...this.#hosts.map((host) => host.namespace), this.#bridge]) take(namespace);
    rmSync(this.folder, { recursive: true, force: true, maxRetries: 5 });
  }
}

/** A machine of the network. */
export class Host {
  address = "";

  constructor(
    readonly name: string,
    readonly namespace: string,
    readonly folder: string,
  ) {
    mkdirSync(folder, { recursive: true });
    mkdirSync(join(NAMES, namespace), { recursive: true });
  }

  /** move gives the machine another address, as after a change of router; what it knew of names is out of date. */
  move(address: string): void {
    this.knows({});
    ip("-n", this.namespace, "-4", "address", "flush", "dev", "wlan0");
    ip("-n", this.namespace, "address", "add", `${address}/24`, "broadcast", "+", "dev", "wlan0");
    this.address = address;
  }

  /** also gives the machine a further address. */
  also(address: string): void {
    ip("-n", this.namespace, "address", "add", `${address}/24`, "dev", "wlan0");
  }

  linkDown(): void {
    ip("-n", this.namespace, "link", "set", "wlan0", "down");
  }

  linkUp(): void {
    ip("-n", this.namespace, "link", "set", "wlan0", "up");
  }

  /** knows is what the machine's resolver answers from now on. */
  knows(names: Record<string, string>): void {
    const lines = Object.entries({ localhost: "127.0.0.1", ...names }).map(([name, address]) => `${address} ${name}\n`);
    writeFileSync(join(NAMES, this.namespace, "hosts"), lines.join("")); // the same file: programs that run see it
  }

  /** wrap gives a command line that runs a program on this machine. */
  wrap(program: string, ...args: string[]): [string, string[]] {
    return ["ip", ["netns", "exec", this.namespace, program, ...args]];
  }

  /** run runs a program to its end and gives what it printed. */
  async run(program: string, ...args: string[]): Promise<string> {
    return (await promisify(execFile)(...this.wrap(program, ...args), { maxBuffer: 1 << 26 })).stdout;
  }

  start(program: string, ...args: string[]): ChildProcess {
    return spawn(...this.wrap(program, ...args), { stdio: ["ignore", "pipe", "pipe"] });
  }
}

/** sweep takes away what a run left behind that was killed. */
function sweep(): void {
  const names = ip("netns", "list").split("\n").map((line) => line.split(" ")[0] ?? "");
  for (const name of names) {
    const maker = new RegExp(`^${PREFIX}(\\d+)-`).exec(name)?.[1];
    if (maker && !existsSync(`/proc/${maker}`)) take(name);
  }
}

/** take ends what runs in a namespace and removes it; its links go with it. */
function take(namespace: string): void {
  try {
    for (const pid of ip("netns", "pids", namespace).split("\n").filter(Boolean)) {
      try {
        process.kill(Number(pid), "SIGKILL");
      } catch {
        // it ended by itself
      }
    }
    ip("netns", "del", namespace);
  } finally {
    rmSync(join(NAMES, namespace), { recursive: true, force: true });
    if (existsSync(NAMES) && readdirSync(NAMES).length === 0) rmSync(NAMES, { recursive: true });
  }
}

function ip(...args: string[]): string {
  return execFileSync("ip", args, { encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] });
}
