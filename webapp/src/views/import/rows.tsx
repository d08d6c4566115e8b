// The rows of a table as they would be saved: those that cannot be first.
import { useSignal } from "@preact/signals";
import type { SheetRow } from "../../core/types";
import { overview } from "../../data/fleet";
import { count, when } from "../../ui/format";
import { Icon } from "../../ui/icon";
import { sentence } from "../../ui/notice";
import { Panel } from "../../ui/screen";

const pageRows = 20;

export function Rows({ rows }: { rows: SheetRow[] }) {
  const bad = rows.filter((row) => row.problem);
  const again = rows.filter((row) => !row.problem && row.again);
  const good = rows.filter((row) => !row.problem && !row.again);
  return (
    <>
      {bad.length > 0 && <List title={`${count(bad.length, "row")} that cannot be saved`} rows={bad} />}
      {good.length > 0 && <List title={`${count(good.length, "row")} to be saved`} rows={good} />}
      {again.length > 0 && <List title={`${count(again.length, "row")} there already, or twice`} rows={again} />}
    </>
  );
}

function List({ title, rows }: { title: string; rows: SheetRow[] }) {
  const shown = useSignal(pageRows);
  const left = rows.length - shown.value;
  return (
    <Panel title={title}>
      <ul class="items">
        {rows.slice(0, shown.value).map((row) => (
          <li key={row.line}>
            <Row row={row} />
          </li>
        ))}
      </ul>
      {left > 0 && (
        <button type="button" class="button small" onClick={() => (shown.value += 10 * pageRows)}>
          {left <= 10 * pageRows ? `The other ${left}` : `${10 * pageRows} more of ${left}`}
        </button>
      )}
    </Panel>
  );
}

function Row({ row }: { row: SheetRow }) {
  const name = overview.value?.packs.find((pack) => pack.code === row.pack)?.name;
  if (row.problem) {
    return (
      <div class="complaint small">
        <Icon name="alert" />
        <span>
          Line {row.line}: {sentence(row.problem)} {row.hint && sentence(row.hint)}
        </span>
      </div>
    );
  }
  return (
    <p>
      <strong>{name || row.pack}</strong> · {when(row.at_ms)}
      {row.by && ` · ${row.by}`}
      <br />
      <span class="small">
        Line {row.line}: {row.shown}
      </span>
    </p>
  );
}
