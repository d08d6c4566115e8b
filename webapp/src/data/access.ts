// Whether the server lets this device in, and what the app makes of it. Nothing
// on the phone depends on it: entries are made, kept and exported all the same.

import { type API, type Device, NotJoined, type Standing } from "./api";
import { access, membership, role, signedOut, tier } from "./status";
import type { Store } from "./store";

/** admit takes in what health said; it throws NotJoined, with the server's reason where there is one, unless this device is let in. */
export async function admit(standing: Standing, api: API, store: Store): Promise<void> {
  if (!standing.joined) {
    if (!membership.value || access.value === "signed-out") throw new NotJoined(signedOut.value ?? "this device has not joined", "");
    const { role } = await api.me(); // throws and says why, or it joined during the probe
    standing = { joined: true, role };
  }
  const changed = access.value !== "joined" || role.value !== standing.role;
  access.value = "joined";
  role.value = standing.role;
  signedOut.value = null;
  if (changed && tier.value !== "here") await learnWho(api, store);
}

/** learnWho remembers this device's place in the server's list: later it tells signed out from never joined. */
async function learnWho(api: API, store: Store): Promise<void> {
  try {
    await become(await api.me(), store);
  } catch (thrown) {
    if (thrown instanceof NotJoined) throw thrown; // else the exchange goes on: the name can wait
  }
}

/** become remembers who this device is; null forgets it. */
export async function become(device: Pick<Device, "id" | "name" | "role"> | null, store: Store): Promise<void> {
  membership.value = device && { id: device.id, name: device.name, role: device.role };
  await store.saveMembership(membership.value);
}

/** turnedAway notes that the server does not let this device in, for starts without a server too. */
export function turnedAway(why: NotJoined, store: Store): void {
  role.value = "";
  access.value = membership.value ? "signed-out" : "stranger";
  signedOut.value = membership.value ? [why.text, why.hint].filter(Boolean).join(": ") : null;
  if (!membership.value || membership.value.off === signedOut.value) return;
  membership.value = { ...membership.value, off: signedOut.value ?? "" };
  store.saveMembership(membership.value).catch(() => {}); // it is heard again with the next probe
}

/** loadMembership reads what was remembered, and what this device may do as far as it knows offline. */
export async function loadMembership(store: Store): Promise<void> {
  membership.value = await store.membership();
  if (access.value !== "unknown" || !membership.value) return;
  const { off, role: last } = membership.value;
  if (off === undefined) {
    role.value = last;
  } else {
    access.value = "signed-out";
    signedOut.value = off;
  }
}

/** barred says whether the server would not talk to this device even where it is in reach. */
export function barred(): boolean {
  return tier.value === "plain" || access.value === "stranger" || access.value === "signed-out";
}
