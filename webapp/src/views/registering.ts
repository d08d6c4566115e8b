// The screens that write a pack's record: one chunk.
export { Add } from "./add";
export { Edit } from "./edit";
export { AddFinding } from "./finding";
export { ShowLabel } from "./label";
