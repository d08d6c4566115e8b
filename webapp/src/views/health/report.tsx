// The report of one pack, to print or to send.
import { useSignal } from "@preact/signals";
import { reachable } from "../../data/status";
import { Panel } from "../../ui/screen";
import { PaperChoice, PDF, type PaperSize } from "../pdf";

export function Report({ code }: { code: string }) {
  const paper = useSignal<PaperSize>("A4");
  return (
    <Panel title="On paper">
      <p>A page on this pack: decision, plot, findings, latest tests, and how the last one was worked out.</p>
      {reachable.value === false && <p role="status">The server draws it and cannot be reached: print it once it is.</p>}
      <PaperChoice legend="Paper" name="report-paper" paper={paper} />
      <PDF
        name="packreport"
        what="report of this pack (PDF)"
        query={[
          ["pack", code],
          ["paper", paper.value],
        ]}
      />
    </Panel>
  );
}
