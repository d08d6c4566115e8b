// The address that labels open: which ones will not do, and which is meant.
import { overview } from "../data/fleet";
import { refused, serverAddress } from "../data/status";
import type { Overview } from "./model";

/** Why an address will not do on a label for long; null where it will. The paper says the same. */
export function addressDoubt(base: string): string | null {
  const host = /^https?:\/\/(\[[^\]]*\]|[^:/]*)/i.exec(base)?.[1]?.toLowerCase() ?? "";
  if (host === "localhost" || host.endsWith(".localhost") || /^127\.|^\[::1\]$/.test(host)) {
    return "Other phones cannot open the labels: this address works on this computer only.";
  }
  if (/^[\d.]+$|^\[/.test(host)) return "The labels may stop opening: a router may give this number to another computer. A name lasts longer.";
  return null;
}

/** How a typed address differs from the one at which this server is reached. */
export interface Mismatch {
  wrong: boolean; // the same server, surely: by another port or scheme
  text: string; // a core text: neither capital nor full stop
  hint: string;
}

/** mismatch compares a typed address with the server's own; null where they are the same, or nothing can be said. */
export function mismatch(typed: string, own: string): Mismatch | null {
  const [meant, real] = [read(typed), read(own)];
  if (!meant || !real || meant.origin === real.origin) return null;
  if (meant.hostname !== real.hostname) {
    return {
      wrong: false,
      text: `devices reach this server at ${own} now`,
      hint: "keep another address only where the server will answer there for as long as the labels last",
    };
  }
  const what = meant.protocol !== real.protocol ? `the beginning ${real.protocol}//` : real.port ? `the port :${real.port}` : `no port`;
  return { wrong: true, text: `this server answers at ${own}, not at ${meant.origin}`, hint: `with ${what} the labels open it` };
}

function read(address: string): URL | null {
  try {
    const url = new URL(address.trim());
    return /^https?:$/.test(url.protocol) ? url : null;
  } catch {
    return null;
  }
}

/**
 * settledAddress is the address of the team's settings without those changes
 * that the server refused: they are here only. Empty where none was set.
 */
export function settledAddress(fleet: Pick<Overview, "team" | "team_history">, refused: ReadonlySet<string>): string {
  const set = fleet.team_history.filter((change) => change.field === "base_url" && !change.voided);
  if (!set.some((change) => refused.has(change.entry))) return fleet.team.base_url;
  return (set.find((change) => !refused.has(change.entry))?.value ?? "").replace(/\/+$/, "");
}

/** The address at which other devices reach the server: its own word, or where this app came from. */
export function ownAddress(): string {
  return serverAddress.value || location.origin;
}

function teamAddress(): string {
  const fleet = overview.value;
  return fleet ? settledAddress(fleet, new Set(refused.value.map(({ entry }) => entry.id))) : "";
}

/** The address that labels open: the team's, or the server's own. */
export function labelBase(): string {
  return teamAddress() || ownAddress();
}

/** The address to ask the server for on paper: empty where what it holds itself counts. */
export function askedBase(): string {
  return teamAddress() || serverAddress.value ? "" : location.origin;
}
