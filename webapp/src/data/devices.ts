// Who may talk to the server: joining it, leaving it, and what leads do with
// the list of devices.

import { Problem } from "../core/problem";
import { become, turnedAway } from "./access";
import { api, type Device, deviceOf, NotJoined, refusal, stranger } from "./api";
import { access, role, type Role } from "./status";
import { store } from "./store";
import { syncNow } from "./sync";

/** An invitation: a code that lets one device in, once. */
export interface Invitation {
  code: string; // "ABCD-EFGH"
  role: Role;
  expires_ms: number; // unix ms, by the server's clock
  url: string; // the join screen, with the code behind the #
}

/** The server takes no more characters as a device's name. */
export const MOST_NAME = 40;

const invitationCode = /^[0-9A-HJKMNP-TV-Z]{8}$/;

/**
 * readInvitation finds the code in what was typed, or in an invitation's
 * address: "ABCDEFGH", or empty where there is none. Capitals, spaces and hyphens do
 * not matter, and look-alikes are read as the digits that codes have.
 */
export function readInvitation(text: string): string {
  const bare = text
    .slice(text.indexOf("#") + 1)
    .toUpperCase()
    .replace(/[\s-]/g, "")
    .replace(/O/g, "0")
    .replace(/[IL]/g, "1");
  return invitationCode.test(bare) ? bare : "";
}

/** isInvitation says whether a scanned text is the address of an invitation. */
export function isInvitation(text: string): boolean {
  return /\/join#/i.test(text) && readInvitation(text) !== "";
}

/** join makes this device one of the team's, then exchanges everything; it rejects with a Problem where the code is not taken. */
export async function join(code: string, name: string): Promise<Device> {
  const body = await ask("POST", "/join", { code: `${code.slice(0, 4)}-${code.slice(4)}`, name, device: await store.device() });
  const device = deviceOf(body.device);
  await become(device, store);
  access.value = "joined";
  role.value = device.role;
  void syncNow();
  return device;
}

/** leave signs this device out; its entries stay on it. */
export async function leave(): Promise<void> {
  await ask("POST", "/leave", {});
  await become(null, store);
  turnedAway(new NotJoined("", ""), store);
}

/** invite makes a code for one more device; those made before stay good until they run out or are used. */
export async function invite(role: Role): Promise<Invitation> {
  const body = await ask("POST", "/invitations", { role });
  const { code, expires_ms, url } = body;
  if (typeof code !== "string" || typeof expires_ms !== "number" || typeof url !== "string") throw stranger();
  return { code, role, expires_ms, url };
}

/** listDevices gives all that ever joined, those last seen first and the revoked ones last. */
export async function listDevices(): Promise<Device[]> {
  const { devices } = await ask("GET", "/devices");
  if (!Array.isArray(devices)) throw stranger();
  const last = (device: Device) => device.seen_ms || device.joined_ms;
  return devices.map(deviceOf).sort((a, b) => Number(Boolean(a.revoked_ms)) - Number(Boolean(b.revoked_ms)) || last(b) - last(a));
}

/** changeDevice renames a device, gives it another role or takes its access away. */
export async function changeDevice(id: string, change: { name: string } | { role: Role } | { revoked: true }): Promise<Device> {
  return deviceOf((await ask("POST", "/devices/change", { id, ...change })).device);
}

/** ask makes a request that is answered at once or not at all. */
async function ask(method: string, path: string, content?: object): Promise<Record<string, unknown>> {
  const body = content && { body: JSON.stringify(content), headers: { "Content-Type": "application/json" } };
  const answer = await api.ask(method, path, body, 10_000);
  if (answer.status === 200) return answer.body;
  const { text, hint } = refusal(answer.status, answer.body);
  throw new Problem("invalid", text, hint);
}
