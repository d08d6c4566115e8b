// What the pack means on the field: volts at the robot's peak, and what is left
// above brown-out, at full charge and below.
import { minus, percent, plain, quantity, volts } from "../../ui/format";
import { sentence, Warnings } from "../../ui/notice";
import { Panel } from "../../ui/screen";
import { num, Table } from "../../ui/table";
import type { Drive as Answer } from "../model";
import { Fold, Working } from "../result";

interface Props {
  answers: Answer[];
  stopped: boolean; // by a safety finding
  peakA: number;
}

export function Drive({ answers, stopped, peakA }: Props) {
  const full = answers[0];
  return (
    <Panel title="On the field">
      {!full ? (
        <p>{stopped ? "It is not to be used." : "Not known before a load test with a result."}</p>
      ) : (
        <>
          <p>
            <strong>{sentence(full.text)}</strong>
          </p>
          <Table
            label="On the field, by state of charge"
            heads={["Charge", num("Voltage"), num("Margin"), num("Holds")]}
            caption={`At the robot's peak of ${plain(peakA)} A; ± is U, 95 %.`}
          >
            {answers.map((answer) => (
              <tr key={answer.charge_pct}>
                <th scope="row">{plain(answer.charge_pct)} %</th>
                <td class="num">
                  {volts(answer.loaded_v.value)}
                  <Plus of={answer.loaded_v} />
                </td>
                <td class="num">
                  {minus(answer.margin_v.value.toFixed(2))} V
                  <Plus of={answer.margin_v} />
                </td>
                <td class="num">{percent(answer.holds).replace("more than", ">").replace("less than", "<")}</td>
              </tr>
            ))}
          </Table>
          <p class="small quiet">Margin: volts above brown-out. Holds: the chance of staying above it at the peak.</p>
          <p>
            Fully charged it browns out at {quantity(full.brownout_a.value, "A", 2)}, and the robot bears {quantity(full.max_ohm.value, "Ω")} at
            most.
          </p>
          <Warnings list={full.warnings} />
          <Fold title="Working, fully charged">
            <Working steps={full.working} />
            <p class="small">{sentence(full.rough)}</p>
            <p class="small quiet">Open-circuit curve: {full.source}</p>
          </Fold>
        </>
      )}
    </Panel>
  );
}

function Plus({ of }: { of: { plus: number | null } }) {
  if (of.plus === null) return null;
  return (
    <>
      <br />
      <span class="small quiet">± {of.plus.toFixed(2)} V</span>
    </>
  );
}
