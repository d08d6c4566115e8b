// The voltage of a run against time, with the limits it is about, and the same
// as a table.
import type { RunOptions, RunResult } from "../../core/types";
import { plain, volts } from "../../ui/format";
import { later } from "../../ui/later";
import type { PlotLevel } from "../../ui/plot";
import { Panel } from "../../ui/screen";
import { num, Table } from "../../ui/table";
import { Fold } from "../result";
import { duration } from "./words";

const Plot = later(async () => (await import("../../ui/plot")).Plot);

/** The unit of time in which a run of so many seconds is drawn. */
function unitOf(seconds: number): { name: string; s: number } {
  if (seconds < 600) return { name: "s", s: 1 };
  return seconds < 3 * 3600 ? { name: "min", s: 60 } : { name: "h", s: 3600 };
}

export function Curve({ result, options }: { result: RunResult; options: RunOptions }) {
  const { curve } = result;
  if (curve.length < 2) return null;
  const unit = unitOf(result.duration_s);
  const levels: PlotLevel[] = [];
  if (options.brownout_v) levels.push({ y: options.brownout_v, words: `brown-out ${plain(options.brownout_v)} V` });
  else if (result.capacity) levels.push({ y: result.capacity.stop_v, words: `stop ${plain(result.capacity.stop_v)} V` });
  const low = Math.min(...curve.map((b) => b.min_v), ...levels.map((level) => level.y));
  const high = Math.max(...curve.map((b) => b.max_v));
  const room = Math.max(0.1, (high - low) * 0.06);
  return (
    <>
      <Panel title="Voltage over the run">
        <Plot
          label={`Voltage against time over ${duration(result.duration_s)}, from ${volts(high)} down to ${volts(result.voltage.lowest_v)}; the table beneath has the same.`}
          data={{
            x: unit.name,
            unit: "V",
            xRange: [0, result.duration_s / unit.s],
            yRange: [low - 2 * room, high + room], // the unit of time stands at the bottom
            levels,
            curve: {
              x: curve.map((b) => b.time_s / unit.s),
              line: curve.map((b) => b.min_v),
              low: curve.map((b) => b.min_v),
              high: curve.map((b) => b.max_v),
            },
          }}
        />
      </Panel>
      <Fold title="The curve as a table">
        <CurveTable result={result} />
      </Fold>
    </>
  );
}

function CurveTable({ result: { curve } }: { result: RunResult }) {
  const amps = curve.some((b) => b.max_a !== null);
  const span = (low: number, high: number, unit: string) =>
    low.toFixed(2) === high.toFixed(2) ? `${low.toFixed(2)} ${unit}` : `${low.toFixed(2)} to ${high.toFixed(2)} ${unit}`;
  return (
    <Table label="The curve as a table" heads={["From", num("Volts"), amps && num("Amps")]} long>
      {curve.map((b) => (
        <tr key={b.time_s}>
          <th scope="row">{duration(b.time_s)}</th>
          <td class="num">{span(b.min_v, b.max_v, "V")}</td>
          {amps && <td class="num">{b.min_a === null || b.max_a === null ? "" : span(b.min_a, b.max_a, "A")}</td>}
        </tr>
      ))}
    </Table>
  );
}
