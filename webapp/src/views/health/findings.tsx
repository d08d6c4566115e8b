// What the history points to, and the test that would tell most.
import { Icon } from "../../ui/icon";
import { sentence } from "../../ui/notice";
import { Panel } from "../../ui/screen";
import type { Health, HealthFinding } from "../model";
import { Fold } from "../result";
import { confidenceWord, dayOf } from "./words";

export type NextStep = { href: string; words: string; why: string };

export function HealthFindings({ health, next }: { health: Health; next: NextStep | null }) {
  const { findings } = health.report;
  const now = findings.filter((finding) => !finding.past);
  const past = findings.filter((finding) => finding.past);
  return (
    <>
      <Panel title="What the history points to">
        {now.length === 0 && <p>Nothing stands out.</p>}
        <ul class="items">
          {now.map((finding) => (
            <li key={finding.cause}>
              <FindingText finding={finding} />
            </li>
          ))}
        </ul>
        {next && (
          <p>
            <strong>The next useful test:</strong> <a href={next.href}>{next.words.toLowerCase()}</a>. {sentence(next.why)}
          </p>
        )}
      </Panel>
      {past.length > 0 && (
        <Fold title={`Settled since: ${past.length}`}>
          <ul class="items">
            {past.map((finding, i) => (
              <li key={i}>
                <FindingText finding={finding} />
              </li>
            ))}
          </ul>
        </Fold>
      )}
    </>
  );
}

function FindingText({ finding }: { finding: HealthFinding }) {
  return (
    <>
      <h3>{finding.title}</h3>
      <p class="row">
        <span class="tag wraps">
          <Icon name={finding.confidence === "possible" || finding.past ? "info" : "alert"} />
          {confidenceWord[finding.confidence]}
        </span>
        {finding.since_ms > 0 && <span class="small quiet">since {dayOf(finding.since_ms)}</span>}
      </p>
      <ul class="bullets">
        {finding.evidence.map((line) => (
          <li key={line}>{sentence(line)}</li>
        ))}
      </ul>
      <p>
        <strong>What to do:</strong> {sentence(finding.action)}
      </p>
      <details>
        <summary class="small">The rule behind it</summary>
        <p class="small">{sentence(finding.rule)}</p>
      </details>
    </>
  );
}

const ways: Record<string, [page: string, words: string]> = {
  "load-test": ["test", "Start test"],
  wiggle: ["wiggle", "Wiggle test"],
  capacity: ["run", "Capacity check"],
  "rest-voltage": ["test", "Read the open voltage"],
  reference: ["test", "Test the reference pack"],
};

/** Where the next useful test is made; null where none is called for. */
export function nextStep(health: Health, code: string, reference: string): NextStep | null {
  const next = health.report.next_test;
  const way = next && ways[next.kind];
  if (!way) return null;
  const [page, words] = way;
  if (next.kind === "reference" && !reference) return { href: "/setup/season", words: "Choose a reference pack", why: next.why };
  return { href: `/p/${next.kind === "reference" ? reference : code}/${page}`, words, why: next.why };
}
