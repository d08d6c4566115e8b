// What packs will need, soonest first.
import type { Due } from "../../core/types";
import { date } from "../../ui/format";
import { localDate } from "../../ui/moment";
import { sentence } from "../../ui/notice";

const dueWord: Record<string, string> = {
  "top-up": "Top-up",
  conditioning: "Conditioning",
  test: "Test",
  capacity: "Capacity check",
};

/** nothing says why nothing is due, where the pack is not to be charged. */
export function DueList({ due, nothing }: { due: Due[]; nothing: string }) {
  if (due.length === 0) return <p>{nothing ? sentence(nothing) : "Nothing is due."}</p>;
  return (
    <ul class="items">
      {due.map((one) => (
        <li key={one.kind}>
          <p>
            <strong>
              {dueWord[one.kind] ?? one.kind}: {one.over ? "due now" : date(localDate(one.day_ms))}.
            </strong>{" "}
            {sentence(one.text)}
          </p>
          <p class="small quiet">{sentence(one.rule)}</p>
        </li>
      ))}
    </ul>
  );
}
