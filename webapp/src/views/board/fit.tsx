// How many packs will be fit: a distribution, since nobody knows the number.
import type { StockPlan } from "../../core/types";
import { count } from "../../ui/format";
import { sentence } from "../../ui/notice";
import { dayOf } from "../health/words";
import { Fold } from "../result";
import { chance } from "./words";

const leastShown = 0.005; // a number less likely than this gets no bar of its own

export function Fit({ plan }: { plan: StockPlan }) {
  const shares = plan.shares.filter((share) => share.p >= leastShown);
  const most = Math.max(...shares.map((share) => share.p));
  return (
    <>
      <section class="readout" aria-label="Fit for competition">
        <h2>Fit for competition</h2>
        <dl class="now-then">
          <div>
            <dt>Now</dt>
            <dd>{plan.now}</dd>
          </div>
          <div>
            <dt>On {dayOf(plan.then_ms)}</dt>
            <dd>{plan.low === plan.high ? plan.low : `${plan.low} to ${plan.high}`}</dd>
          </div>
        </dl>
        <p class="small quiet">At least {plan.low} with 95 % probability, at most {plan.high} with 95 %; {plan.expected.toFixed(1)} on average.</p>
        {plan.doubtful && <p class="small">{sentence(plan.doubtful)}</p>}
        {shares.length > 1 && (
          <table class="bars">
            <caption>How likely each number is on that day</caption>
            <tbody>
              {shares.map((share) => (
                <tr key={share.packs}>
                  <th scope="row">{count(share.packs, "pack")}</th>
                  <td aria-hidden="true">
                    <div class="bar-of" style={{ inlineSize: `${(100 * share.p) / most}%` }} />
                  </td>
                  <td class="num">{chance(share.p)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        )}
        {plan.unknown.length > 0 && (
          <p class="small">
            No forecast reaches that day, so taken over from today with doubt: {plan.unknown.join(", ")}.
          </p>
        )}
      </section>
      {plan.rules.length > 0 && (
        <Fold title="How this is worked out">
          <ul class="bullets">
            {plan.rules.map((rule) => (
              <li key={rule}>{sentence(rule)}</li>
            ))}
          </ul>
        </Fold>
      )}
    </>
  );
}
