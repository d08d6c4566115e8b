// What a mentor asks first, each in a line.
import type { Board, BoardRow, Cause } from "../../core/types";
import { count } from "../../ui/format";
import { sentence } from "../../ui/notice";
import { dayOf } from "../health/words";

/** Packs in the order in which they are best taken: the lowest resistance first. */
export function fitOf(rows: BoardRow[]): BoardRow[] {
  return rows.filter((row) => row.outcome === "competition").sort((a, b) => (a.ohm ?? 0) - (b.ohm ?? 0));
}

export function Answers({ board: { plan, rows } }: { board: Board }) {
  const fit = fitOf(rows);
  const { buy } = plan;
  const order = buy.packs > 0 && buy.by_ms !== null ? `, order by ${dayOf(buy.by_ms)}` : "";
  return (
    <section class="readout" aria-label="In short">
      <dl class="answers">
        <div>
          <dt>Take</dt>
          <dd>
            <strong>{fit.length > 0 ? fit.map((row) => row.name || row.code).join(", ") : "No pack is fit"}</strong>
          </dd>
        </div>
        <With rows={rows} cause="contact-or-lead" words="Mend the lead" />
        <With rows={rows} cause="lost-cell" words="Lost cell" />
        <div>
          <dt>Buy</dt>
          <dd>
            <strong>
              {buy.packs > 0 ? count(buy.packs, "pack") : "Nothing"}
              {order}
            </strong>
          </dd>
        </div>
      </dl>
    </section>
  );
}

/** The packs with a cause that still stands, each with what to do. */
function With({ rows, cause, words }: { rows: BoardRow[]; cause: Cause; words: string }) {
  const found = rows.flatMap((row) => row.findings.filter((finding) => finding.cause === cause).map((finding) => ({ row, finding })));
  if (found.length === 0) return null;
  return (
    <div>
      <dt>{words}</dt>
      <dd>
        {found.map(({ row, finding }) => (
          <p key={row.code}>
            <a href={`/p/${row.code}/health`}>
              <strong>{row.name || row.code}</strong>
            </a>
            <br />
            <span class="small">
              {cause === "lost-cell" && `${sentence(finding.title)} `}
              {sentence(finding.action)}
            </span>
          </p>
        ))}
      </dd>
    </div>
  );
}
