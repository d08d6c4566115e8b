// The roles of devices in words.
import type { Role } from "../data/status";

/** A role's name, and what it may. */
export const roleWord: Record<Role, { name: string; may: string }> = {
  crew: { name: "Crew", may: "Crew record, read and print." },
  lead: { name: "Lead", may: "Leads also look after devices and the team's settings." },
};
