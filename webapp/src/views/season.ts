// The screens about a pack over a season: one chunk.
export { Health } from "./health/health";
export { HealthPanel } from "./health/panel";
export { Lead } from "./lead/lead";
export { Repair } from "./repair";
export { Wiggle } from "./wiggle/wiggle";
