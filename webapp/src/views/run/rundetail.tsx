// One saved run, with its curve.
import { restore, useAction, voidEntry } from "../../ui/action";
import { Facts, type Fact } from "../../ui/facts";
import { plain, when } from "../../ui/format";
import { Failed, Notice } from "../../ui/notice";
import { Screen } from "../../ui/screen";
import type { Pack } from "../model";
import { NoPack } from "../nopack";
import { usePack } from "../packdata";
import { Fold } from "../result";
import { NoResult, RunResultView } from "./runresult";
import { duration, purposeWord } from "./words";

type PackRun = Pack["runs"][number];

export function RunDetail({ code, entry }: { code: string; entry: string }) {
  const { pack, complaint } = usePack(code);
  const act = useAction();
  if (!pack) return <NoPack code={code} complaint={complaint} />;
  const name = pack.name || code;
  const run = pack.runs.find((one) => one.entry === entry);
  if (!run) {
    return (
      <Screen title="No such run here" back={[`/p/${code}/run`, "Runs"]}>
        <p>It may be on another device that has not sent it yet.</p>
      </Screen>
    );
  }
  return (
    <Screen
      title={`${purposeWord[run.purpose]}, ${name}`}
      back={[`/p/${code}/run`, "Runs"]}
      dock={
        <a class="button main" href={`/p/${code}`}>
          To the pack
        </a>
      }
    >
      <p class="quiet">
        {when(run.started_ms)}
        {run.by && ` · ${run.by}`}
        {run.file && ` · ${run.file}`}
      </p>
      {run.clock_off && <Notice warm>The clock of the device that made this was plainly wrong. The date may be too.</Notice>}
      {run.voided && (
        <Notice warm>
          <strong>Voided: it does not count.</strong>
          <button type="button" class="button small" onClick={() => act.run(() => restore(code, run.voided_by ?? ""))}>
            Bring back
          </button>
        </Notice>
      )}
      {run.result ? (
        <RunResultView result={run.result} purpose={run.purpose} options={run.options} byHand={run.rows.length > 0} />
      ) : (
        <NoResult problem={run.problem ?? ""} />
      )}
      <Raw run={run} />
      {!run.voided && (
        <button type="button" class="button" onClick={() => act.run(() => voidEntry(code, run.entry, "Run voided"))}>
          Void this run as mistaken
        </button>
      )}
      <Failed what="Not saved" complaint={act.failed.value} />
    </Screen>
  );
}

function Raw({ run }: { run: PackRun }) {
  const { options: o, rows } = run;
  const full = o.from_full === undefined ? "" : o.from_full ? "yes" : "no";
  const facts: Fact[] = [
    ["Load", o.load_ohm ? `${plain(o.load_ohm)} Ω${o.load_tolerance_pct === undefined ? "" : ` ± ${plain(Number(o.load_tolerance_pct.toPrecision(3)))} %`}` : ""],
    ["Stop voltage", o.stop_v ? `${plain(o.stop_v)} V` : ""],
    ["Full at the start", full],
    ["Temperature at the start", o.pack_c === undefined ? "" : `${plain(o.pack_c)} °C`],
    ["Note", run.note],
  ];
  return (
    <Fold title="As it was logged">
      <Facts list={facts.filter(([, value]) => value !== "")} />
      {rows.length > 0 && (
        <table>
          <thead>
            <tr>
              <th scope="col">After</th>
              <th scope="col" class="num">
                On load
              </th>
            </tr>
          </thead>
          <tbody>
            {rows.map((row) => (
              <tr key={row.time_s}>
                <th scope="row">{duration(row.time_s)}</th>
                <td class="num">{plain(row.volts)} V</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      <p class="small quiet id">{run.entry}</p>
    </Fold>
  );
}
