// What to buy, and by when.
import type { StockPlan } from "../../core/types";
import { Facts, type Fact } from "../../ui/facts";
import { count } from "../../ui/format";
import { Notice, sentence } from "../../ui/notice";
import { Panel } from "../../ui/screen";
import { dayOf } from "../health/words";
import { chance } from "./words";

export function Buy({ plan: { buy, sure_pct } }: { plan: StockPlan }) {
  const facts: Fact[] = [["Sure without buying", chance(sure_pct / 100)]];
  if (buy.packs > 0) {
    facts.push(["Sure with them", chance(buy.sure_pct / 100)]);
    if (buy.by_ms !== null && !buy.too_late) facts.push(["Order by", dayOf(buy.by_ms)]);
    if (buy.cost !== null) facts.push(["Cost", `${buy.cost.toLocaleString("en-GB", { maximumFractionDigits: 2 })} ${buy.currency}`]);
  }
  return (
    <Panel title="What to buy">
      <p class="figure">
        <span class="value">{buy.packs > 0 ? count(buy.packs, "pack") : "Nothing"}</span>
      </p>
      <p>{sentence(buy.text)}</p>
      {buy.test_first && <p>{sentence(buy.test_first)}</p>}
      {buy.too_late && (
        <Notice warm>
          <strong>It is too late to order for that day.</strong>
          <p>Delivery and running in take longer than that. Borrow packs, or win some back by a repair.</p>
        </Notice>
      )}
      <Facts list={facts} />
      {buy.packs > 0 && buy.cost === null && <p class="small">The price of a pack is set in Set-up, Season.</p>}
    </Panel>
  );
}
