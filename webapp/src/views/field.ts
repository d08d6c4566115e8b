// The screens about devices and networks, and of a first start: one chunk.
export { Devices } from "./devices";
export { HandOver } from "./handover";
export { Join } from "./join";
export { OffList } from "./offlist";
export { ReadJournal } from "./readjournal";
export { Take } from "./take";
export { TierNotice } from "../ui/tier";
export { Upstream } from "./upstream";
export { Welcome } from "./welcome";
export { Wipe, Wiped } from "./wipe";
