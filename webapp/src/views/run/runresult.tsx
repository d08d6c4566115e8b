// What a logged run shows: the capacity and its verdict, or what the robot did
// to the pack, then the curve, what was odd about the rows, and the working.
import type { RunIssueCount, RunOptions, RunPurpose, RunResult } from "../../core/types";
import { Facts, type Fact } from "../../ui/facts";
import { capital, count, plain, quantity, volts } from "../../ui/format";
import { Notice, sentence, Warnings } from "../../ui/notice";
import { Fold, Working } from "../result";
import { Curve } from "./curve";
import { duration, interval, saidOf, verdictMeans, verdictWord } from "./words";

interface Props {
  result: RunResult;
  purpose: RunPurpose;
  options: RunOptions;
  byHand?: boolean; // logged on this device, not by a logger
}

export function RunResultView({ result, purpose, options, byHand }: Props) {
  // A drive sags below 1.0 V per cell at every start, and the facts say for how
  // long; by hand the load is on from the first reading to the last.
  const besides = [purpose === "drive" && "below-one-volt", byHand && "from-load"];
  return (
    <>
      {purpose === "capacity" ? <Capacity result={result} options={options} /> : <Drive result={result} options={options} />}
      <Warnings list={result.warnings.filter((warning) => !besides.includes(warning.code))} />
      <Curve result={result} options={options} />
      {result.resistance && <Resistances result={result} />}
      <Facts panel list={rest(result)} />
      <Issues list={result.issues} />
      {result.working.length > 0 && (
        <Fold title="Working">
          <Working steps={result.working} />
        </Fold>
      )}
    </>
  );
}

function Capacity({ result: { capacity }, options }: Pick<Props, "result" | "options">) {
  if (!capacity) {
    return (
      <section class="readout" aria-label="Result">
        <p>
          <strong>No capacity: the current is not known.</strong>
        </p>
      </section>
    );
  }
  const { out_ah: out, share_pct: share } = capacity;
  const verdict = saidOf(capacity);
  const known = out.expanded_uncertainty !== null;
  const [value = "", spread] = interval(out, "Ah").split(" ± ");
  return (
    <section class="readout" aria-label="Result">
      {verdict && <strong class="outcome large">{verdictWord[verdict]}</strong>}
      <p class="figure">
        <span class="value">
          {!capacity.reached && "≥ "}
          {value}
        </span>
        {known && <span class="spread">± {spread}</span>}
      </p>
      {share && (
        <p>
          <strong>{interval(share, "%")}</strong> of the rated {plain(options.rated_ah ?? 0)} Ah. Good from {plain(capacity.good_pct)} %, at its end
          below {plain(capacity.end_pct)} %.
        </p>
      )}
      {verdict && <p>{verdictMeans[verdict]}</p>}
      <p>
        <strong>{capacity.not_counted ? sentence(capacity.not_counted) : "It counts as this pack's capacity."}</strong>
      </p>
      <p class="small quiet">
        {capacity.reached ? `Down to ${plain(capacity.stop_v)} V` : `Stop voltage ${plain(capacity.stop_v)} V, not reached`}
        {capacity.pack_c !== null && `, pack at ${plain(capacity.pack_c)} °C at the start`}.
      </p>
    </section>
  );
}

function Drive({ result: { voltage, charge, duration_s }, options }: Pick<Props, "result" | "options">) {
  const brownout = options.brownout_v ?? 0;
  return (
    <section class="readout" aria-label="Result">
      <p class="figure">
        <span class="value">{volts(voltage.lowest_v)}</span> <span class="spread">lowest</span>
      </p>
      {brownout > 0 && (
        <p>
          <strong>
            {voltage.dips === 0
              ? `Never below the brown-out voltage of ${plain(brownout)} V.`
              : `${count(voltage.dips, "time")} below the brown-out voltage of ${plain(brownout)} V, ${duration(voltage.below_brownout_s)} in all.`}
          </strong>{" "}
          {voltage.dips > 1 && `The longest took ${duration(voltage.longest_dip_s)}.`}
        </p>
      )}
      <p class="small quiet">
        The lowest came {duration(voltage.lowest_at_s)} into a run of {duration(duration_s)}
        {voltage.lowest_line > 0 && `, line ${voltage.lowest_line} of the file`}.{charge && ` ${interval(charge.out_ah, "Ah")} taken out.`}
      </p>
    </section>
  );
}

function Resistances({ result: { resistance: r } }: { result: RunResult }) {
  if (!r) return null;
  const facts: Fact[] = [];
  if (r.robust_ohm) facts.push(["Robust slope of volts against amps", interval(r.robust_ohm, "Ω")]);
  if (r.least_squares_ohm) facts.push(["Least squares, all rows", interval(r.least_squares_ohm, "Ω")]);
  if (r.release_ohm) facts.push([`1 s after the load went off, ${count(r.release_ohm.observations, "time")}`, interval(r.release_ohm, "Ω")]);
  if (facts.length === 0) return null;
  return (
    <section class="panel" aria-label="Resistance in the run">
      <h2>Resistance in the run</h2>
      <Facts list={facts} />
      <p class="small quiet">Each method sees another part of the resistance. None is mixed into the trend of the load tests.</p>
    </section>
  );
}

function rest(r: RunResult): Fact[] {
  const facts: Fact[] = [
    ["Duration", duration(r.duration_s)],
    ["Rows", r.set_aside > 0 ? `${r.rows}, and ${r.set_aside} set aside` : String(r.rows)],
    ["Lowest voltage", volts(r.voltage.lowest_v)],
  ];
  if (r.charge) {
    facts.push(["Charge out, whole run", interval(r.charge.out_ah, "Ah")]);
    facts.push(["Energy out", interval(r.charge.out_wh, "Wh")]);
    if (r.charge.in_ah.value > 0) facts.push(["Charge put back", interval(r.charge.in_ah, "Ah")]);
    facts.push(["Mean current", quantity(r.charge.mean_out_a, "A")]);
    facts.push(["Largest current", quantity(r.charge.largest_a, "A")]);
  }
  if (r.voltage.below_one_volt_s > 0) facts.push(["Below 1.0 V per cell", duration(r.voltage.below_one_volt_s)]);
  return facts;
}

/** What was odd about the rows: by kind, with the first of each. */
export function Issues({ list }: { list: RunIssueCount[] }) {
  if (list.length === 0) return null;
  return (
    <section class="panel" aria-label="Odd rows">
      <h2>Odd rows</h2>
      <ul class="items">
        {list.map((issue) => (
          <li key={issue.kind}>
            <p>
              <strong>
                {capital(issue.text)}: {issue.rows}
              </strong>{" "}
              <span class="small">({issue.set_aside ? "left out" : "they count"})</span>
            </p>
            <p class="small">{sentence(issue.hint)}</p>
            <details>
              <summary>{issue.first.length < issue.rows ? `The first ${issue.first.length}` : "Which"}</summary>
              <ul class="bullets small">
                {issue.first.map((one, i) => (
                  <li key={i}>
                    {one.line > 0 && `Line ${one.line}: `}
                    {one.text}
                  </li>
                ))}
              </ul>
            </details>
          </li>
        ))}
      </ul>
    </section>
  );
}

/** In place of a result. */
export function NoResult({ problem }: { problem: string }) {
  return (
    <Notice warm>
      <strong>No result: {sentence(problem || "it cannot be worked out")}</strong>
    </Notice>
  );
}
