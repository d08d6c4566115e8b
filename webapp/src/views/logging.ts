// The screens about runs and charges of a pack: one chunk.
export { Charges } from "./charges/charges";
export { RunDetail } from "./run/rundetail";
export { RunScreen } from "./run/run";
