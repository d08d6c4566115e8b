// One pack: what it is fit for and why, its tests, findings, notes and profile.
import { atMost, count, date, daysAgo, methodWord, outcomeWord, pair, plain, when } from "../ui/format";
import { Facts, type Fact } from "../ui/facts";
import { Icon } from "../ui/icon";
import { later } from "../ui/later";
import { Mark, OutcomeLine } from "../ui/outcome";
import { Notice, sentence } from "../ui/notice";
import { Screen, Panel } from "../ui/screen";
import { UnsentTag } from "../ui/unsenttag";
import type { Pack, PackTest } from "./model";
import { NoPack } from "./nopack";
import { usePack } from "./packdata";
import { Findings } from "./findings";
import { History } from "./history";
import { Notes } from "./notes";
import { NextSteps, Readout } from "./result";

const HealthPanel = later(async () => (await import("./season")).HealthPanel);

export function PackScreen({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  if (!pack) return <NoPack code={code} complaint={complaint} />;
  return (
    <Screen
      wide
      title={pack.name || code}
      heading={
        <>
          {pack.name || "No name"} <span class="code quiet">{pack.code}</span>
        </>
      }
      back={["/", "Packs"]}
      dock={
        <>
          <a class="button" href={`/p/${code}/quick`}>
            Quick form
          </a>
          <a class={pack.decision.safety.length > 0 ? "button" : "button main"} href={`/p/${code}/test`}>
            Start test
          </a>
        </>
      }
    >
      {pack.retired && (
        <Notice>
          <strong>Retired: {sentence(pack.retired_why || "out of the fleet, kept in the record")}</strong>
          <p>{pack.disposal}</p>
        </Notice>
      )}
      <div class="columns">
        <div class="stack">
          <Decided pack={pack} />
          <HealthPanel code={pack.code} />
          <Findings pack={pack} />
          <Tests pack={pack} />
        </div>
        <div class="stack">
          <Profile pack={pack} />
          <Notes code={pack.code} notes={pack.notes} />
          <History title="History of the profile" what="profile entry" code={pack.code} changes={pack.history} />
        </div>
      </div>
    </Screen>
  );
}

function Decided({ pack }: { pack: Pack }) {
  const latest = pack.tests.find((t) => t.entry === pack.latest_test);
  const known = pack.tested_ms !== null && pack.days_since_test !== null; // not where the clock was wrong
  const tested = known && <p class="small quiet">Last tested {daysAgo(pack.tested_ms ?? 0)}.</p>;
  return (
    <div class="stack">
      {latest?.result ? (
        <Readout result={latest.result} decision={pack.decision} />
      ) : (
        <section class="readout" aria-label="Result">
          <OutcomeLine decision={pack.decision} large />
          <p>{sentence(pack.decision.reason)}</p>
        </section>
      )}
      {tested}
      <NextSteps decision={pack.decision} />
    </div>
  );
}

const shownTests = 5; // at first sight; the others are one tap away

function Tests({ pack }: { pack: Pack }) {
  const earlier = pack.tests.slice(shownTests);
  return (
    <Panel title="Tests">
      {pack.tests.length === 0 && <p>None yet.</p>}
      <TestList tests={pack.tests.slice(0, shownTests)} code={pack.code} />
      {earlier.length > 0 && (
        <details>
          <summary>{count(earlier.length, "earlier test")}</summary>
          <TestList tests={earlier} code={pack.code} />
        </details>
      )}
    </Panel>
  );
}

function TestList({ tests, code }: { tests: PackTest[]; code: string }) {
  return (
    <ul class="items">
      {tests.map((test) => (
        <li key={test.entry}>
          <TestLine test={test} code={code} />
        </li>
      ))}
    </ul>
  );
}

function TestLine({ test, code }: { test: PackTest; code: string }) {
  return (
    <a class="item-link" href={`/p/${code}/test/${test.entry}`}>
      <Mark outcome={!test.result || test.voided ? "untested" : test.alone ? "retest" : test.decision.outcome} />
      <span class={test.voided ? "struck" : ""}>
        <span class="value">{resultWords(test.result)}</span>
        <br />
        <span class="small quiet">
          {test.voided ? "Voided" : test.alone ? `Resistance alone: ${test.alone}` : outcomeWord[test.decision.outcome]} · {when(test.at_ms)} · {methodWord[test.method]}
          {test.by && ` · ${test.by}`}
          {test.clock_off && " · clock was wrong"}
        </span>
        <UnsentTag ids={[test.entry]} />
      </span>
      <Icon name="next" />
    </a>
  );
}

function resultWords(result: PackTest["result"]): string {
  if (!result) return "No result";
  if (result.bound_only) return atMost(result.upper_bound_ohm ?? 0);
  const [value, spread] = pair(result.resistance_ohm, result.expanded_uncertainty_ohm);
  return `${value} Ω ± ${spread} Ω`;
}

function Profile({ pack }: { pack: Pack }) {
  const facts: Fact[] = [
    ["Capacity", pack.capacity_ah ? `${plain(pack.capacity_ah)} Ah` : "not known"],
    ["Cells in series", pack.cells ? String(pack.cells) : "not known"],
    ["Fuse", pack.fuse_a ? `${plain(pack.fuse_a)} A` : "not known"],
    ["In service since", pack.in_service ? date(pack.in_service) : "not known"],
  ];
  if (pack.lead_mm2) facts.push(["Lead, copper area", `${plain(pack.lead_mm2)} mm²`]);
  if (pack.lead_length_mm) facts.push(["Lead, length one way", `${plain(pack.lead_length_mm)} mm`]);
  if (pack.connector) facts.push(["Connector", pack.connector]);
  return (
    <Panel title="Profile">
      <Facts list={facts} />
      <div class="row">
        <a class="button small" href={`/p/${pack.code}/edit`}>
          {pack.retired ? "Change profile" : "Change profile or retire"}
        </a>
        <a class="button small" href={`/p/${pack.code}/label`}>
          Show label
        </a>
      </div>
    </Panel>
  );
}
