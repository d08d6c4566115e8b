// What a set-up does to the pack and the resistor, and what it can tell.
import { Facts, type Fact } from "../ui/facts";
import { quantity } from "../ui/format";
import { Notice, Warnings, sentence } from "../ui/notice";
import type { SetupCheck } from "./model";
import { Refusals } from "./refusals";
import { Fold, Working } from "./result";

interface Props {
  check: SetupCheck;
  facts?: Fact[]; // what is used, before what comes of it
}

export function SetupSummary({ check, facts = [] }: Props) {
  const all: Fact[] = [
    ...facts,
    ["Current on load", quantity(check.current_a, "A")],
    ["Heat in the resistor", quantity(check.power_w, "W")],
    ["Longest time on load", check.longest_s === null ? "not limited by the load" : quantity(check.longest_s, "s", 2)],
    ["Can tell, at the limit", `± ${quantity(check.u_at_limit_ohm, "Ω", 2)} (${check.share_of_limit_pct.toFixed(0)} % of it)`],
  ];
  const said = [...check.refusals, ...check.warnings].some((warning) => warning.hint === check.best_change);
  return (
    <>
      <Refusals list={check.refusals} />
      <Facts panel list={all} />
      <Warnings list={check.warnings} />
      {check.best_change && !said && (
        <Notice>
          <strong>What would help most</strong>
          <p>{sentence(check.best_change)}</p>
        </Notice>
      )}
      <Fold title="Working of the set-up check">
        <Working steps={check.working} />
      </Fold>
    </>
  );
}
