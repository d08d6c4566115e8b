// Paper and files of the whole fleet, and the way in for old tests.
import { useSignal } from "@preact/signals";
import { call } from "../../core/bridge";
import type { Table } from "../../core/types";
import { useAction } from "../../ui/action";
import { download, saveExport } from "../../ui/export";
import { Failed } from "../../ui/notice";
import { Panel } from "../../ui/screen";
import { SaveCalendar } from "../charges/calendar";
import { PaperChoice, PDF, type PaperSize } from "../pdf";

const tables: [Table, string][] = [
  ["tests", "All tests"],
  ["packs", "Packs"],
  ["charges", "Charges"],
  ["repairs", "Repairs"],
];

interface Asked {
  day: string; // as the board shows it; empty: the event's
  wanted: string; // as typed; empty: the team's
}

export function Files({ day, wanted }: Asked) {
  const act = useAction();
  const paper = useSignal<PaperSize>("A4");
  const save = (what: Table) =>
    act.run(async () => {
      const { name, text } = await call("table", { what, now_ms: Date.now() });
      download(name, new Blob([text], { type: "text/csv;charset=utf-8" }));
    });
  return (
    <div class="columns">
      <div id="report" class="stack">
        <Panel title="On paper">
          <p>
            The fleet on one page, for the mentor and whoever pays: what is fit, what to buy, what to do. Or a page on each pack. The server
            draws them, so it must be in reach.
          </p>
          <PaperChoice legend="Paper" name="report-paper" paper={paper} />
          <PDF
            name="fleetreport"
            what="fleet report"
            query={[
              ["day", day],
              ["wanted", wanted.trim()],
              ["paper", paper.value],
            ]}
            numbers={{ wanted: { quantity: "count" } }}
          />
          <PDF name="packreport" what="pack reports" query={[["paper", paper.value]]} />
        </Panel>
      </div>
      <Panel title="Files">
        <p>Tables for a spreadsheet (CSV), from what is on this device:</p>
        <div class="row">
          {tables.map(([what, words]) => (
            <button key={what} type="button" class="button small" onClick={() => save(what)} aria-disabled={act.busy.value}>
              {words}
            </button>
          ))}
        </div>
        <Failed what="Not saved" complaint={act.failed.value} />
        <SaveCalendar />
        <button type="button" class="button" onClick={() => act.run(saveExport)} aria-disabled={act.busy.value}>
          Whole journal, one entry a line
        </button>
        <a class="button" href="/import">
          Read in old tests from a table
        </a>
      </Panel>
    </div>
  );
}
