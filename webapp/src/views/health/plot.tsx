// The plot of a pack's history, its keys, and the same as a table.
import { useSignal } from "@preact/signals";
import { later } from "../../ui/later";
import { Table } from "../../ui/table";
import type { Health, HealthPoint, Pack, Team } from "../model";
import { plotOf } from "./plotdata";
import { dayOf, forecastWords, ohms, useOf } from "./words";

const Plot = later(async () => (await import("../../ui/plot")).Plot);

interface Props {
  health: Health;
  pack: Pack;
  team: Team;
}

export function HealthPlot({ health, pack, team }: Props) {
  const data = plotOf(health, pack, team.limits.competition_ohm);
  const opened = useSignal(false); // a long table waits until somebody wants it
  const about = (id: string) => {
    const point = health.points.find((found) => found.test === id);
    return point && <About point={point} code={pack.code} />;
  };
  return (
    <section class="panel" aria-label="Resistance over time">
      <h2>Resistance over time{team.to_20c && ", at 20 °C"}</h2>
      {data.points?.length ? (
        <>
          <div class="plot-place">
            <Plot label={`Resistance of ${pack.name || pack.code} over time. The table below has the same figures.`} data={data} about={about} />
          </div>
          <Keys kinds={kindsIn(data)} />
          <details onToggle={() => (opened.value = true)}>
            <summary>The same as a table</summary>
            {opened.value && <Tests health={health} code={pack.code} />}
          </details>
        </>
      ) : (
        <p>No test with a result yet.</p>
      )}
    </section>
  );
}

function About({ point, code }: { point: HealthPoint; code: string }) {
  return (
    <p>
      <strong class="nowrap">{ohms(point.used ? point.used_ohm : point.ohm, point.plus_ohm)}</strong>{" "}
      <span class="small">
        {dayOf(point.at_ms)}, {useOf(point)}. <a href={`/p/${code}/test/${point.test}`}>Open this test</a>
      </span>
    </p>
  );
}

const keys = {
  used: [
    <path d="M12 2v12M9 2h6M9 14h6" stroke="var(--good)" stroke-width="1.5" />,
    <path d="M12 3l4 5-4 5-4-5z" fill="var(--good)" />,
    "Test ± U",
  ],
  unused: [<circle cx="12" cy="8" r="4" stroke="var(--edge)" stroke-width="1.5" />, null, "Not in the trend"],
  flagged: [<circle cx="12" cy="8" r="6" stroke="var(--warm)" stroke-width="2" stroke-dasharray="3 3" />, null, "Looks off"],
  trend: [
    <rect x="0" y="2" width="24" height="12" fill="var(--band)" />,
    <path d="M0 8h24" stroke="var(--good)" stroke-width="2.5" />,
    "Trend, 95 %",
  ],
  ahead: [<path d="M0 8h24" stroke="var(--good)" stroke-width="2.5" stroke-dasharray="6 4" />, null, "Carried on"],
  crossing: [
    <rect x="2" y="1" width="20" height="14" fill="var(--warm-wash)" />,
    <path d="M2 0v16M22 0v16" stroke="var(--warm)" stroke-width="1.5" stroke-dasharray="2 3" />,
    "Crosses the limit, 90 %",
  ],
  repair: [<path d="M12 2v14" stroke="var(--ink)" stroke-width="1.5" />, <path d="M7 1h10v9H7z" fill="var(--ink)" />, "Repair"],
  finding: [
    <path d="M12 2v14" stroke="var(--ink)" stroke-width="1.5" stroke-dasharray="3 3" />,
    <path d="M12 0l6 10H6z" fill="var(--warm)" />,
    "Finding begins",
  ],
} as const;

type Key = keyof typeof keys;

/** The keys of what is in the picture. */
function kindsIn(data: ReturnType<typeof plotOf>): Key[] {
  const { points = [], marks = [], spans = [], curve } = data;
  const there: Record<Key, boolean> = {
    used: points.some((point) => point.used),
    unused: points.some((point) => !point.used),
    flagged: points.some((point) => point.flagged),
    trend: curve !== undefined,
    ahead: curve?.knownTo !== undefined && curve.knownTo < (curve.x.at(-1) ?? 0),
    crossing: spans.length > 0,
    repair: marks.some((mark) => mark.kind === "repair"),
    finding: marks.some((mark) => mark.kind === "finding"),
  };
  return (Object.keys(keys) as Key[]).filter((key) => there[key]);
}

function Keys({ kinds }: { kinds: Key[] }) {
  return (
    <ul class="keys">
      {kinds.map((kind) => {
        const [under, over, words] = keys[kind];
        return (
          <li key={kind}>
            <svg viewBox="0 0 24 16" fill="none" aria-hidden="true">
              {under}
              {over}
            </svg>
            {words}
          </li>
        );
      })}
    </ul>
  );
}

const mostRows = 500; // more make a phone slow; the file of all tests has them

function Tests({ health, code }: { health: Health; code: string }) {
  const forecast = health.trend && forecastWords(health.trend);
  const newest = [...health.points].reverse().slice(0, mostRows);
  const order = newest.length < health.points.length ? `The ${mostRows} newest` : "Newest first";
  return (
    <Table label="Tests as a table" heads={["Day", "R ± U", "In the trend"]} caption={`${order}; ± is U, 95 %. ${forecast ?? ""}`}>
      {newest.map((point) => (
        <tr key={point.test}>
          <th scope="row">
            <a class="link" href={`/p/${code}/test/${point.test}`}>
              {dayOf(point.at_ms)}
            </a>
          </th>
          <td>{point.ohm > 0 ? ohms(point.used ? point.used_ohm : point.ohm, point.plus_ohm) : "no result"}</td>
          <td>{useOf(point)}</td>
        </tr>
      ))}
    </Table>
  );
}
