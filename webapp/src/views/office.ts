// The screens for quiet hours: one chunk.
export { Nowhere } from "./nowhere";
export { Paper } from "./paper";
export { SeasonSetup } from "./seasonsetup";
export { Setup } from "./setup";
export { Stored } from "./stored";
export { TeamSetup } from "./team";
export { Unsent } from "./unsent";
export { UpdateReady } from "../ui/updateready";
