// What this device may do, for screens that ask before they offer it.

import { access, membership, role, tier } from "./status";

/** mayLead says whether this device may do what is for leads, as far as it knows: who sits at the server's machine always may. */
export function mayLead(): boolean {
  return role.value === "lead" || tier.value === "here";
}

/** hasJoined says whether the server lets this device in, or did when it was last asked. */
export function hasJoined(): boolean {
  return access.value === "joined" || (access.value === "unknown" && membership.value !== null);
}
