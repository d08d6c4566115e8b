// The first rows of a logger's file: as they stand, and what is read from them.
import type { RunFormat, RunPreview, RunPreviewRow } from "../../core/types";
import { Choice } from "../../ui/fields";
import { plain } from "../../ui/format";
import { Icon } from "../../ui/icon";
import { sentence } from "../../ui/notice";
import { num, Table } from "../../ui/table";

export function Preview({ preview, onFormat }: { preview: RunPreview; onFormat: (format: RunFormat) => void }) {
  const amps = preview.format.amp_column > 0;
  return (
    <section class="panel" aria-label="The first rows">
      <h2>The first rows</h2>
      {preview.times_without_unit && (
        <Choice
          legend="Times are in"
          name="unit_of_times"
          options={[
            ["s", "Seconds"],
            ["min", "Minutes"],
            ["h", "Hours"],
            ["ms", "Milliseconds"],
          ]}
          value={preview.format.time_unit}
          onChoose={(time_unit) => onFormat({ ...preview.format, time_unit })}
        />
      )}
      <Table label="The first rows as they are read" heads={["Line", num("Time"), num("Volts"), amps && num("Amps"), "As it stands"]}>
        {preview.rows.map((row) => (
          <Row key={row.line} row={row} amps={amps} />
        ))}
      </Table>
    </section>
  );
}

function Row({ row, amps }: { row: RunPreviewRow; amps: boolean }) {
  const cells = <td class="small as-it-stands">{row.cells.join(" | ")}</td>;
  if (row.volts === null) {
    return (
      <tr>
        <th scope="row">{row.line}</th>
        <td colSpan={amps ? 3 : 2}>
          <div class="complaint small">
            <Icon name="alert" />
            <span>{sentence(row.problem || "it is left out")}</span>
          </div>
        </td>
        {cells}
      </tr>
    );
  }
  return (
    <tr>
      <th scope="row">{row.line}</th>
      <td class="num">{plain(row.time_s ?? 0)} s</td>
      <td class="num">{plain(row.volts)} V</td>
      {amps && <td class="num">{row.amps === null ? "" : `${plain(row.amps)} A`}</td>}
      {cells}
    </tr>
  );
}
