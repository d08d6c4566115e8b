// The screens around a test: one chunk.
export { Guided } from "./guided/guided";
export { Quick } from "./quick/quick";
export { Scan } from "./scan";
export { TestDetail } from "./testdetail";
