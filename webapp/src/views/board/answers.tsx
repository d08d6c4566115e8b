// What a mentor asks first, each in a line.
import type { Board, BoardRow, Cause, HealthFinding, Stand } from "../../core/types";
import { capital } from "../../ui/format";
import { sentence } from "../../ui/notice";
import { dayOf } from "../health/words";

export function Answers({ board: { plan, rows, take, event } }: { board: Board }) {
  const { buy } = plan;
  const day = dayOf(plan.then_ms);
  return (
    <section class="readout" aria-label="In short">
      <h2>
        For {event ? `${event}, ${day}` : day}
        {plan.wanted > 0 && `: ${plan.wanted} wanted`}
      </h2>
      <dl class="answers">
        <div>
          <dt>Take</dt>
          <dd>
            {take.length === 0 && <strong>No pack is fit</strong>}
            {take.map((pack, i) => (
              <span key={pack.code}>
                {i > 0 && ", "}
                <strong>{pack.name || pack.code}</strong>
                {pack.but && ` (${pack.but})`}
              </span>
            ))}
          </dd>
        </div>
        <With rows={rows} cause="contact-or-lead" words="Mend the lead" said={(finding) => finding.action} />
        <With rows={rows} cause="lost-cell" words="Lost cell" said={(finding) => finding.title} />
        <div>
          <dt>Buy</dt>
          <dd>
            <strong>{capital(buy.short)}</strong>
            {buy.test_first && <p class="small">{sentence(buy.test_first)}</p>}
          </dd>
        </div>
        <Standing rows={rows} stand="test-first" words="Test first" />
        <Standing rows={rows} stand="stays" words="Leave at home" />
        <Standing rows={rows} stand="reference" words="Reference: rests" />
      </dl>
    </section>
  );
}

/** The packs that stand there, in the order of the table. */
function Standing({ rows, stand, words }: { rows: BoardRow[]; stand: Stand; words: string }) {
  const there = rows.filter((row) => row.stand === stand);
  if (there.length === 0) return null;
  return (
    <div>
      <dt>{words}</dt>
      <dd>{there.map((row) => row.name || row.code).join(", ")}</dd>
    </div>
  );
}

/** The packs with a cause that still stands, each with what was found or what to do; the rest stands under "What to do about packs". */
function With({ rows, cause, words, said }: { rows: BoardRow[]; cause: Cause; words: string; said: (finding: HealthFinding) => string }) {
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
            <span class="small">{sentence(said(finding))}</span>
          </p>
        ))}
      </dd>
    </div>
  );
}
