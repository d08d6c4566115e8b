// The parts of a pack that are repaired, in words.
import type { RepairPart } from "./model";

export const repairWord: Record<RepairPart, string> = {
  lead: "Lead",
  connector: "Connector",
  fuse: "Fuse or holder",
  cells: "Cells",
  other: "Something else",
};
