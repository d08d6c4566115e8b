// The lead in milliohm and volts, beside the pack's latest test, and what would
// gain most.
import { capital, minus, pair, quantity } from "../../ui/format";
import { Notice, Warnings } from "../../ui/notice";
import { Panel } from "../../ui/screen";
import { num, Table } from "../../ui/table";
import type { LeadAnswer } from "../model";
import { Fold, Working } from "../result";

type Budget = LeadAnswer["budget"];
type Comparison = NonNullable<LeadAnswer["comparison"]>;

const milliohm = (ohm: number) => quantity(1000 * ohm, "mΩ");

/** Milliohm with their interval, to the same last digit. */
function interval(ohm: number, plus: number): string {
  const [value, spread] = pair(1000 * ohm, 1000 * plus);
  return `${value} mΩ ± ${spread} mΩ`;
}

export function LeadResult({ answer: { budget, comparison } }: { answer: LeadAnswer }) {
  return (
    <>
      <section class="readout" aria-label="Result">
        <p class="trend-words">
          The lead has <strong class="nowrap">{interval(budget.resistance_ohm, budget.expanded_uncertainty_ohm)}</strong> and takes{" "}
          <strong class="nowrap">{quantity(budget.sag_v, "V", 2)}</strong> at {quantity(budget.peak_a, "A", 2)}.
        </p>
      </section>
      {comparison ? (
        <Compared comparison={comparison} />
      ) : (
        <Notice>There is no test of this pack to compare with. Test it, and this says how much of it is cells.</Notice>
      )}
      <Parts budget={budget} />
      <Warnings list={comparison?.warnings ?? budget.warnings} />
      {comparison && <Gains comparison={comparison} />}
      <Fold title="Working">
        <Working steps={comparison?.working ?? budget.working} />
      </Fold>
    </>
  );
}

const shares = [
  ["cells_pct", "Cells and tabs", "var(--good)"],
  ["copper_pct", "Copper", "var(--edge)"],
  ["fuse_pct", "Fuse", "var(--warm)"],
  ["contact_pct", "Contacts and crimps", "var(--ink)"],
] as const;

function Compared({ comparison: c }: { comparison: Comparison }) {
  let left = 0;
  return (
    <Panel title="Of the pack's latest test">
      <p>
        Of {milliohm(c.pack_ohm)}, cells and the tabs between them have {interval(c.cells_ohm, c.cells_plus_ohm)}.
      </p>
      <svg class="shares" viewBox="0 0 100 6" preserveAspectRatio="none" aria-hidden="true">
        {shares.map(([name, , colour]) => {
          const width = Math.min(Math.max(c[name], 0), 100 - left);
          const x = left;
          left += width;
          return <rect key={name} x={x} y={0} width={Math.max(width - 0.4, 0)} height={6} fill={colour} />;
        })}
      </svg>
      <ul class="keys">
        {shares.map(([name, words, colour]) => (
          <li key={name}>
            <svg viewBox="0 0 24 16" aria-hidden="true">
              <rect x={4} y={1} width={14} height={14} fill={colour} />
            </svg>
            {words} {minus(c[name].toFixed(0))} %
          </li>
        ))}
      </ul>
    </Panel>
  );
}

function Parts({ budget }: { budget: Budget }) {
  return (
    <Panel title="Part by part">
      <Table label="Parts of the lead" heads={["Part", num("mΩ"), num("At peak"), num("Share")]}>
        {budget.parts.map((part, i) => (
          <tr key={i}>
            <th scope="row">
              {capital(part.name)}
              {part.assumed && <span class="small quiet"> (assumed)</span>}
            </th>
            <td class="num">{quantity(1000 * part.resistance_ohm, "")}</td>
            <td class="num">{quantity(part.sag_v, "V", 2)}</td>
            <td class="num">{part.share_pct.toFixed(0)} %</td>
          </tr>
        ))}
      </Table>
      <details>
        <summary>Where the values come from</summary>
        <ul class="bullets small">
          {budget.parts.map((part, i) => (
            <li key={i}>
              {capital(part.name)}: {part.source}
            </li>
          ))}
        </ul>
      </details>
    </Panel>
  );
}

function Gains({ comparison }: { comparison: Comparison }) {
  if (comparison.gains.length === 0) return null;
  return (
    <Panel title="What would gain most">
      <ul class="items">
        {comparison.gains.map((gain) => (
          <li key={gain.change}>
            <p>
              <strong>{capital(gain.change)}</strong>
            </p>
            <p class="small">
              {gain.saves_ohm >= 0 ? "Saves" : "Costs"} {interval(Math.abs(gain.saves_ohm), gain.saves_plus_ohm)},{" "}
              {quantity(Math.abs(gain.saves_v), "V", 2)} at the peak: {Math.abs(gain.saves_pct).toFixed(1)} % of the pack.
            </p>
          </li>
        ))}
      </ul>
      <p class="small quiet">Before you change a lead: the event's rules say which wire, fuse and plug are allowed.</p>
    </Panel>
  );
}
