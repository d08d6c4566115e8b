// What a test says: the outcome, the figure with its uncertainty, why, what to
// do, and the working for whoever wants to check it.
import { type ComponentChildren } from "preact";
import { Facts, type Fact } from "../ui/facts";
import { atMost, capital, degreesOfFreedom, pair, percent, plain, quantity, volts } from "../ui/format";
import { Formula } from "../ui/formula";
import { Warnings, sentence } from "../ui/notice";
import { OutcomeLine } from "../ui/outcome";
import { Scale } from "../ui/scale";
import { num, Table } from "../ui/table";
import type { BudgetLine, Decision, Result, Step } from "./model";

interface Props {
  result: Result;
  decision: Decision;
  alone?: string; // why the decision is on the resistance alone
}

export function ResultView({ result, decision, alone }: Props) {
  return (
    <>
      <Readout result={result} decision={decision} alone={alone} />
      <Warnings list={result.warnings} />
      <NextSteps decision={decision} />
      <Readings result={result} />
      <Fold title="Working">
        <Working steps={result.working} />
      </Fold>
      <Fold title="Where the uncertainty comes from">
        <Budget lines={result.budget} result={result} />
      </Fold>
    </>
  );
}

export function Readout({ result, decision, alone }: Props) {
  return (
    <section class="readout" aria-label="Result">
      {alone ? (
        <>
          <OutcomeLine decision={{ outcome: "retest" }} words="Resistance alone" large />
          <p>
            <strong>{sentence(alone)}</strong> A good resistance does not make the pack fit.
          </p>
        </>
      ) : (
        <OutcomeLine decision={decision} large />
      )}
      <Figure result={result} />
      {!result.bound_only && (
        <Scale
          value={result.resistance_ohm}
          expanded={result.expanded_uncertainty_ohm}
          limit={decision.limit_ohm}
          practice={decision.practice_limit_ohm}
        />
      )}
      <p>{sentence(decision.reason)}</p>
      {decision.probability_within_limit !== null && !alone && (
        <p class="small quiet">
          Chance that the pack is within the competition limit of {plain(decision.limit_ohm)} Ω:{" "}
          {percent(decision.probability_within_limit)}.
          {(decision.outcome === "practice" || decision.outcome === "retest") &&
            " Enough for competition: 97.5 %, which is R + U within the limit."}
        </p>
      )}
    </section>
  );
}

function Figure({ result }: { result: Result }) {
  if (result.bound_only) {
    return (
      <p class="figure">
        <span class="value">{atMost(result.upper_bound_ohm ?? 0)}</span>
        <span class="spread">upper bound only</span>
      </p>
    );
  }
  const [value, spread] = pair(result.resistance_ohm, result.expanded_uncertainty_ohm);
  return (
    <p class="figure">
      <span class="value">{value} Ω</span> <span class="spread">± {spread} Ω</span>
    </p>
  );
}

export function NextSteps({ decision }: { decision: Decision }) {
  if (decision.next.length === 0) return null;
  return (
    <section class="panel" aria-label="What to do next">
      <h2>What to do next</h2>
      <ul class="bullets">
        {decision.next.map((line) => (
          <li key={line}>{sentence(line)}</li>
        ))}
      </ul>
    </section>
  );
}

function Readings({ result: r }: { result: Result }) {
  const facts: Fact[] = [["Readings", String(r.repeats)]];
  if (r.open_v !== null) facts.push(["Open circuit, mean", volts(r.open_v)]);
  if (r.loaded_v !== null) facts.push(["On load, mean", volts(r.loaded_v)]);
  if (r.sag_v !== null) facts.push(["Sag", quantity(r.sag_v, "V")]);
  if (r.current_a !== null) facts.push(["Current", quantity(r.current_a, "A")]);
  if (r.load_power_w !== null) facts.push(["Power in the load", quantity(r.load_power_w, "W")]);
  if (r.load_energy_j !== null) facts.push(["Energy in the load", quantity(r.load_energy_j, "J")]);
  return <Facts panel list={facts} />;
}

export function Fold({ title, children }: { title: string; children: ComponentChildren }) {
  return (
    <details class="panel">
      <summary>{title}</summary>
      {children}
    </details>
  );
}

export function Working({ steps }: { steps: Step[] }) {
  return (
    <ol class="steps">
      {steps.map((step, i) => (
        <li key={i}>
          <span>{capital(step.label)}</span>
          <span class="formula">
            <Formula text={step.formula} />
          </span>
          {step.numbers && (
            <span>
              {step.formula.includes("=") && "= "}
              <Formula text={step.numbers} />
            </span>
          )}
          <span class="result">= {step.result}</span>
        </li>
      ))}
    </ol>
  );
}

function Budget({ lines, result }: { lines: BudgetLine[]; result: Result }) {
  const u = quantity(result.standard_uncertainty_ohm, "Ω", 2);
  const k = plain(Number(result.coverage_factor.toFixed(2)));
  const dof = result.degrees_of_freedom === null ? "" : `, ${degreesOfFreedom(result.degrees_of_freedom)} degrees of freedom`;
  const caption = `Standard uncertainty ${u}, coverage factor ${k}${dof}; 95 %.`;
  return (
    <Table label="Uncertainty budget" heads={["Source", num("Contribution"), num("Share")]} caption={caption}>
      {lines.map((line, i) => (
        <tr key={i}>
          <td>
            {capital(line.source)}
            <br />
            <span class="small quiet">
              <Formula text={line.quantity} />: {quantity(line.value, line.unit, 4)}, u ={" "}
              {quantity(line.standard_uncertainty, line.unit, 2)}
            </span>
          </td>
          <td class="num">{quantity(line.contribution_ohm * 1000, "mΩ", 2)}</td>
          <td class="num">{line.share_pct.toFixed(0)} %</td>
        </tr>
      ))}
    </Table>
  );
}
