// Old tests from a table: choose the file, match its columns, look at what would
// be saved, save it, and undo the whole of it if it was wrong.
import { useSignal } from "@preact/signals";
import { useRef } from "preact/hooks";
import { call } from "../../core/bridge";
import { Problem } from "../../core/problem";
import type { SheetPlan, SheetPreview } from "../../core/types";
import { mayLead } from "../../data/rights";
import { overview } from "../../data/fleet";
import { importTests } from "../../data/imports";
import { role } from "../../data/status";
import { beginningOf } from "../../data/textfile";
import { restore, useAction } from "../../ui/action";
import { AskInitials } from "../../ui/askinitials";
import { count } from "../../ui/format";
import { complaintOf, Failed, Notice, sentence } from "../../ui/notice";
import { Panel, Screen } from "../../ui/screen";
import { say } from "../../ui/toast";
import { Unopened } from "../../ui/unopened";
import { Earlier } from "./earlier";
import { Matching } from "./matching";
import { Rows } from "./rows";

const mostBytes = 5_000_000; // of a table of tests made by hand; more is another file

interface Table {
  name: string;
  text: string;
}

export function ImportTests() {
  const fleet = overview.value;
  const input = useRef<HTMLInputElement>(null);
  const table = useSignal<Table | null>(null);
  const preview = useSignal<SheetPreview | null>(null);
  const saved = useSignal<number | null>(null); // rows, while they are saved
  const act = useAction();
  const looked = useRef(0);

  const look = async (from: Table, plan: SheetPlan | null) => {
    const turn = ++looked.current;
    const found = await call("import-look", { text: from.text, file: from.name, plan, now_ms: Date.now() });
    if (turn === looked.current) preview.value = found; // a later choice counts
  };
  const take = () =>
    act.run(async () => {
      const file = input.current?.files?.[0];
      if (input.current) input.current.value = ""; // the same file may be chosen again
      if (!file) return;
      if (file.size > mostBytes) {
        throw new Problem("too_large", `the file has ${(file.size / 1e6).toFixed(1)} MB`, "a table of tests is far shorter; a logger's file is read at its pack, under Runs");
      }
      [table.value, preview.value] = [null, null];
      const read = { name: file.name, text: (await beginningOf(file, mostBytes)).text };
      await look(read, null);
      table.value = read;
    });
  const change = async (plan: SheetPlan) => {
    if (!table.value || !preview.value) return;
    preview.value = { ...preview.value, plan, rows: [], good: 0, bad: 0, again: 0 }; // the next choice builds on it; nothing of the old reading is saved
    act.failed.value = null;
    try {
      await look(table.value, plan);
    } catch (error) {
      act.failed.value = complaintOf(error);
    }
  };
  const close = () => ([table.value, preview.value] = [null, null]);
  const good = preview.value?.rows.filter((row) => !row.problem && !row.again) ?? [];
  const keep = () =>
    act.run(async () => {
      if (!table.value) return;
      saved.value = 0;
      try {
        const entry = await importTests(table.value.name, good, (rows) => (saved.value = rows));
        say(`${count(good.length, "test")} saved on this device`, () => restore("", entry.id));
        close();
      } finally {
        saved.value = null;
      }
    });

  if (!fleet) {
    return (
      <Screen title="Read in old tests" back={["/board", "Board"]}>
        <Unopened />
      </Screen>
    );
  }
  if (!mayLead()) {
    return (
      <Screen title="Read in old tests" back={["/board", "Board"]}>
        <Notice>
          <strong>Only leads read in old tests.</strong>
          <p>
            {role.value === "crew"
              ? "The server would refuse the table of a crew device. Give the file to a lead, or ask one to make this device a lead under Devices."
              : "The server has not said that this device is a lead's. Join as one, or use the machine that runs the server."}
          </p>
        </Notice>
        <Earlier imports={fleet.imports} />
      </Screen>
    );
  }
  if (saved.value !== null) {
    return (
      <Screen title="Saving the tests" back={["/board", "Board"]}>
        <progress max={good.length} value={saved.value} aria-label="How many tests are saved" />
        <p class="figure">
          <span class="value">
            {saved.value} of {good.length}
          </span>
        </p>
        <p>Leave this screen open until it is done. What was saved until then can be undone as a whole.</p>
      </Screen>
    );
  }
  return (
    <Screen
      title={table.value ? "Is it read rightly?" : "Read in old tests"}
      back={["/board", "Board"]}
      wide
      dock={
        table.value ? (
          <>
            <button type="button" class="button" onClick={close}>
              Another file
            </button>
            <button type="button" class="button main" onClick={keep} aria-disabled={act.busy.value || good.length === 0}>
              Save {count(good.length, "test")}
            </button>
          </>
        ) : (
          <button type="button" class="button main" onClick={() => input.current?.click()} aria-disabled={act.busy.value}>
            {act.busy.value ? "Reading the table …" : "Choose a CSV file"}
          </button>
        )
      }
    >
      <input ref={input} hidden type="file" name="table" onChange={take} />
      <Failed show what={table.value ? "Not done" : "This file cannot be read"} complaint={act.failed.value} />
      {table.value && preview.value ? (
        <>
          <AskInitials />
          <p class="quiet address">{table.value.name}</p>
          <Summary preview={preview.value} good={good.length} />
          <Matching plan={preview.value.plan} onPlan={change} />
          <Rows rows={preview.value.rows} />
        </>
      ) : (
        <>
          <Panel title="What it takes">
            <p>
              A table of earlier tests, saved from a spreadsheet as CSV: a row for each test, with the pack's name or code, the date, and either
              the two voltages and the load or the resistance.
            </p>
            <p>Nothing is saved before you have seen it. The packs have to be in the list already, by name or code.</p>
          </Panel>
          <Earlier imports={fleet.imports} />
        </>
      )}
    </Screen>
  );
}

function Summary({ preview, good }: { preview: SheetPreview; good: number }) {
  return (
    <>
      <div role="status" class="stack">
        <p>
          <strong>{count(good, "row")} can be saved.</strong> {preview.bad > 0 && `${count(preview.bad, "row")} cannot; why stands beside each. `}
          {preview.again > 0 && `${count(preview.again, "row")} left out: the same test is there already, or twice in the file.`}
        </p>
      </div>
      {preview.doubts.map((doubt) => (
        <Notice warm key={doubt}>
          {sentence(doubt)}
        </Notice>
      ))}
    </>
  );
}
