// What was found on which pack, and what to do about it.
import type { Board, BoardRow } from "../../core/types";
import { overview } from "../../data/fleet";
import { Icon } from "../../ui/icon";
import { Notice, sentence } from "../../ui/notice";
import { Panel } from "../../ui/screen";
import { dayOf } from "../health/words";

export function Found({ rows }: { rows: BoardRow[] }) {
  const found = rows.filter((row) => row.findings.length > 0 || row.outcome === "set-aside" || row.first);
  return (
    <Panel title="What to do about packs">
      {found.length === 0 && <p>Nothing stands out.</p>}
      <ul class="items">
        {found.map((row) => (
          <li key={row.code}>
            <a class="item-link" href={`/p/${row.code}/health`}>
              <Icon name={row.outcome === "set-aside" || row.first || row.findings.some((finding) => finding.confidence !== "possible") ? "alert" : "info"} />
              <span>
                <strong>{row.name || "No name"}</strong> <span class="code quiet">{row.code}</span>
                {row.outcome === "set-aside" && (
                  <span>
                    <br />
                    <strong>Set aside.</strong> <span class="small">{reasonOf(row.code)}</span>
                  </span>
                )}
                {row.first && row.safety.length === 0 && (
                  <span>
                    <br />
                    <strong>{sentence(row.first)}</strong>
                  </span>
                )}
                {row.findings.map((finding, i) => (
                  <span key={finding.cause}>
                    <br />
                    <strong>{finding.title}.</strong>{" "}
                    {(row.safety.length === 0 || i === row.findings.length - 1) /* one for all of them */ && <span class="small">{sentence(finding.action)}</span>}
                  </span>
                ))}
              </span>
              <Icon name="next" />
            </a>
          </li>
        ))}
      </ul>
    </Panel>
  );
}

function reasonOf(code: string): string {
  const reason = overview.value?.packs.find((row) => row.code === code)?.reason ?? "";
  return reason && sentence(reason);
}

/** Test days on which the set-up was off. */
export function OffDays({ days }: { days: Board["days"] }) {
  return (
    <>
      {days.map((day) => (
        <Notice warm key={day.at_ms}>
          <strong>
            {dayOf(day.at_ms)}: {sentence(day.finding.title)}
          </strong>
          <p>{day.finding.evidence.map(sentence).join(" ")}</p>
          <p>{sentence(day.finding.action)}</p>
        </Notice>
      ))}
    </>
  );
}
