// The screens about the fleet over a season: one chunk.
export { Board } from "./board/board";
export { ImportTests } from "./import/import";
