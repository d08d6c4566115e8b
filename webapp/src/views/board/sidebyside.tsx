// The packs side by side: resistance, trend, what it means on the field, what was found.
import type { BoardRow } from "../../core/types";
import { capital, plain, useWord, volts } from "../../ui/format";
import { Mark } from "../../ui/outcome";
import { Panel } from "../../ui/screen";
import { num, Table } from "../../ui/table";
import { dayOf, ohms } from "../health/words";
import { chance, trendOf, uncounted } from "./words";

export function SideBySide({ rows, thenMS }: { rows: BoardRow[]; thenMS: number }) {
  const capacity = rows.some((row) => row.capacity_pct !== null);
  return (
    <Panel title="Side by side">
      <p class="small quiet narrow-only">The table is wider than the screen: push it to the left.</p>
      <Table
        label="Packs side by side"
        heads={["Pack", "Resistance", "Trend", "On the field", "Found", capacity && num("Capacity"), num(`Fit on ${dayOf(thenMS)}`)]}
        class="side-by-side"
      >
        {rows.map((row) => (
          <Row key={row.code} row={row} capacity={capacity} />
        ))}
      </Table>
      <p class="small quiet">On the field: voltage at the robot's peak current, fully charged, and its margin above brown-out.</p>
    </Panel>
  );
}

function Row({ row, capacity }: { row: BoardRow; capacity: boolean }) {
  const trend = trendOf(row);
  return (
    <tr>
      <th scope="row">
        <a href={`/p/${row.code}/health`}>{row.name || row.code}</a>
        <span class="outcome-small">
          <Mark outcome={row.outcome} />
          {useWord(row)}
        </span>
      </th>
      <td class="nowrap">{row.ohm === null ? "not tested" : ohms(row.ohm, row.plus_ohm ?? 0)}</td>
      <td class="wide">
        {trend.word}
        {trend.more && <span class="small"> {trend.more}</span>}
      </td>
      <td>
        {row.drive ? (
          <>
            <span class="nowrap">{volts(row.drive.loaded_v.value)}</span>
            <br />
            <span class="small nowrap">
              {row.drive.margin_v.value >= 0 ? `${row.drive.margin_v.value.toFixed(2)} V above` : `${(-row.drive.margin_v.value).toFixed(2)} V below`}
            </span>
          </>
        ) : (
          <NoDrive row={row} />
        )}
      </td>
      <td class="wide">{[...row.safety.map(capital), ...row.findings.map((finding) => finding.title)].join(", ") || "nothing"}</td>
      {capacity && <td class="num">{row.capacity_pct === null ? "" : `${plain(Math.round(row.capacity_pct))} %`}</td>}
      <td class="num">{row.fit_then === null ? uncounted(row) : chance(row.fit_then)}</td>
    </tr>
  );
}

/** Why nothing is told of a pack on the field. */
function NoDrive({ row }: { row: BoardRow }) {
  return <>{row.safety.length > 0 ? "not to be used" : "not known"}</>;
}
