// Why something must not be connected, said before anything else.
import { Notice, Warnings } from "../ui/notice";
import type { Warning } from "./model";

export function Refusals({ list, words = "Do not connect this." }: { list: Warning[]; words?: string }) {
  if (list.length === 0) return null;
  return (
    <>
      <Notice warm live="alert">
        <strong>{words}</strong>
      </Notice>
      <Warnings list={list} />
    </>
  );
}
