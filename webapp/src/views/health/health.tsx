// What a pack's history says: where it is going, what it points to, what that
// means for the driver, and the tests it rests on.
import { Facts, type Fact } from "../../ui/facts";
import { plain } from "../../ui/format";
import { Icon } from "../../ui/icon";
import { LinkLine } from "../../ui/linkline";
import { Failed, Notice, sentence, Warnings } from "../../ui/notice";
import { Panel, Screen } from "../../ui/screen";
import type { Health as HealthAnswer, Pack, Team } from "../model";
import { NoPack } from "../nopack";
import { usePack, useTeam } from "../packdata";
import { Fold, Working } from "../result";
import { verdictWord } from "../run/words";
import { Unsafe } from "../unsafe";
import { useHealth } from "./data";
import { Drive } from "./drive";
import { HealthFindings, nextStep, type NextStep } from "./findings";
import { HealthPlot } from "./plot";
import { Records } from "./records";
import { Report } from "./report";
import { dayOf, forecastWords, ohms } from "./words";

export function Health({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  const { health, complaint: why } = useHealth(code);
  const team = useTeam();
  if (!pack || !team) return <NoPack code={code} complaint={complaint} />;
  const safe = pack.decision.safety.length === 0;
  const next = health && safe ? nextStep(health, code, team.reference_pack) : null;
  return (
    <Screen
      wide
      title={`Health of ${pack.name || code}`}
      back={[`/p/${code}`, pack.name || code]}
      dock={
        safe && (
          <>
            <a class="button" href={`/p/${code}/repair`}>
              Record a repair
            </a>
            <a class="button main" href={next?.href ?? `/p/${code}/test`}>
              {next?.words ?? "Start test"}
            </a>
          </>
        )
      }
    >
      <Unsafe findings={pack.decision.safety} />
      <Failed what="It cannot be worked out" complaint={why} />
      {!health && !why && <p role="status">Working it out …</p>}
      {health && <Body health={health} pack={pack} team={team} next={next} />}
    </Screen>
  );
}

function Body({ health, pack, team, next }: { health: HealthAnswer; pack: Pack; team: Team; next: NextStep | null }) {
  return (
    <>
      <TrendPart health={health} />
      <div class="columns">
        <div class="stack">
          <HealthPlot health={health} pack={pack} team={team} />
          <HealthFindings health={health} next={next} />
        </div>
        <div class="stack">
          <Drive answers={health.drive} stopped={pack.decision.safety.length > 0} peakA={team.limits.robot.peak_a} />
          <Capacity health={health} code={pack.code} />
          <Basis health={health} code={pack.code} />
          <Records pack={pack} />
          <MoreToDo code={pack.code} />
          <Report code={pack.code} />
        </div>
      </div>
    </>
  );
}

/** Where it is going, in two sentences. */
function TrendPart({ health }: { health: HealthAnswer }) {
  const { trend } = health;
  const worst = health.report.findings.find((finding) => !finding.past && finding.confidence !== "possible");
  if (!trend) return <Notice warm>{sentence(health.problem || "there is no trend")}</Notice>;
  const forecast = forecastWords(trend);
  return (
    <section class="readout" aria-label="Trend">
      {worst && (
        <p class="trend-words">
          <strong>{sentence(worst.title)}</strong>
        </p>
      )}
      <p class="trend-words">{sentence(trend.text)}</p>
      {forecast && <p>{forecast}</p>}
      {health.baseline && <p>Baseline: {sentence(health.baseline.text)}</p>}
      {trend.missing.length > 0 && (
        <>
          <p class="small quiet">What a firmer answer needs:</p>
          <ul class="bullets small">
            {trend.missing.map((line) => (
              <li key={line}>{sentence(line)}</li>
            ))}
          </ul>
        </>
      )}
    </section>
  );
}

const mostShown = 100; // of the tests that do not compare

/** What the trend rests on. */
function Basis({ health, code }: { health: HealthAnswer; code: string }) {
  const { trend, baseline } = health;
  const unused = health.points.filter((point) => !point.used);
  const shift = trend?.forecast?.common_shift_days;
  const facts: Fact[] = [];
  if (baseline) facts.push(["Baseline", `${plain(Number(baseline.ohm.toPrecision(3)))} Ω, since ${dayOf(baseline.since_ms)}`]);
  if (trend) facts.push(["Test days compared", String(trend.series.occasions.length)]);
  if (shift != null) facts.push(["If the load is off by its tolerance", `all dates move by up to ${shift.toFixed(0)} days`]);
  return (
    <>
      {facts.length > 0 && <Facts panel list={facts} />}
      {trend && <Warnings list={trend.warnings} />}
      {unused.length > 0 && (
        <Fold title={`Tests that do not compare: ${unused.length}`}>
          <ul class="items">
            {[...unused].reverse().slice(0, mostShown).map((point) => (
              <li key={point.test}>
                <a class="item-link two" href={`/p/${code}/test/${point.test}`}>
                  <span>
                    <span class="value">{point.ohm > 0 ? ohms(point.ohm, point.plus_ohm) : "No result"}</span>
                    <br />
                    <span class="small quiet">
                      {dayOf(point.at_ms)} · {point.reason}
                    </span>
                  </span>
                  <Icon name="next" />
                </a>
              </li>
            ))}
          </ul>
          {unused.length > mostShown && <p class="small quiet">The {mostShown} newest; the table below the plot has more.</p>}
        </Fold>
      )}
      {trend && trend.working.length > 0 && (
        <Fold title="Working of the trend">
          <Working steps={trend.working} />
        </Fold>
      )}
    </>
  );
}

const dueWord: Record<string, string> = { "top-up": "Top-up charge", conditioning: "Full slow cycle", test: "Test", capacity: "Capacity check" };

function Capacity({ health, code }: { health: HealthAnswer; code: string }) {
  const { capacity, charging } = health;
  const facts: Fact[] = [];
  if (capacity) {
    facts.push(["Capacity, of rated", `${capacity.share_pct.toFixed(0)} % ± ${capacity.plus_pct.toFixed(0)} %`]);
    facts.push(["Checked", `${dayOf(capacity.at_ms)}: ${verdictWord[capacity.verdict].toLowerCase()}`]);
  }
  if (charging.cycles > 0) facts.push(["Charges for use", String(charging.cycles)]);
  if (charging.idle_days !== null) facts.push(["Days since the last charge", charging.idle_days.toFixed(0)]);
  return (
    <Panel title="Capacity and charging">
      {facts.length > 0 ? <Facts list={facts} /> : <p>No capacity check and no charge on record.</p>}
      {charging.nothing && <p>{sentence(charging.nothing)}</p>}
      {charging.due.slice(0, 2).map((due) => (
        <p key={due.kind}>
          <strong>
            {dueWord[due.kind] ?? due.kind}: {due.over ? "due now" : dayOf(due.day_ms)}.
          </strong>{" "}
          {sentence(due.text)}
        </p>
      ))}
      <div class="row">
        <a class="button small" href={`/p/${code}/run`}>
          Capacity check
        </a>
        <a class="button small" href={`/p/${code}/charges`}>
          Charges
        </a>
      </div>
    </Panel>
  );
}

function MoreToDo({ code }: { code: string }) {
  return (
    <ul class="links panel">
      <LinkLine href={`/p/${code}/wiggle`} words="Wiggle test: is it the lead?" />
      <LinkLine href={`/p/${code}/lead`} words="What the lead costs, part by part" />
    </ul>
  );
}
