// Runs of a pack: make one by hand, read a logger's file, look at earlier ones.
import { type Signal } from "@preact/signals";
import { useRef } from "preact/hooks";
import { useAnswer } from "../../ui/answer";
import { plain, quantity, volts, when } from "../../ui/format";
import { Icon } from "../../ui/icon";
import { Panel, Screen } from "../../ui/screen";
import { UnsentTag } from "../../ui/unsenttag";
import type { Pack } from "../model";
import type { StepProps } from "./step";
import { plannedLoad } from "./planned";
import { duration, interval, purposeWord, saidOf, verdictWord } from "./words";

type PackRun = Pack["runs"][number];

export function Choose({ file, ...p }: StepProps & { file: Signal<File | null> }) {
  const input = useRef<HTMLInputElement>(null);
  const take = () => {
    const chosen = input.current?.files?.[0];
    if (chosen) file.value = chosen;
    if (input.current) input.current.value = ""; // the same file may be chosen again
  };
  const runs = p.pack.runs;
  const { answer: planned } = useAnswer(() => plannedLoad(p.pack, p.team), [JSON.stringify([p.pack.cells, p.pack.capacity_ah, p.team.load])]);
  const begin = () => {
    const suggested = planned?.suggested && p.draft.texts.ohm === undefined;
    p.change({ step: "setup", ...(suggested && { suggestedOhm: planned.ohm, texts: { ...p.draft.texts, ohm: plain(planned.ohm), tolerance_pct: "", rating_w: "" } }) });
  };
  return (
    <Screen
      title={`Runs of ${p.pack.name || p.pack.code}`}
      back={[`/p/${p.pack.code}`, p.pack.name || p.pack.code]}
      dock={
        <>
          <button type="button" class="button" onClick={() => input.current?.click()}>
            Read a file
          </button>
          <button type="button" class="button main" onClick={begin}>
            Capacity check
          </button>
        </>
      }
    >
      {p.restored}
      {/* no filter: phones know CSV by many names */}
      <input ref={input} hidden type="file" name="log" onChange={take} />
      <Panel title="Capacity check">
        <p>
          With a resistor and a meter: the app asks for a reading every few minutes until the pack is down. Somebody stays beside it all the
          time.
        </p>
        {planned && planned.duration_s !== null && (
          <p>
            With {planned.suggested ? "a load" : "the team's load"} of {quantity(planned.ohm, "Ω", 2)} it takes <strong>about {duration(planned.duration_s)}</strong>, if the
            pack holds its {quantity(p.pack.capacity_ah, "Ah", 2)}.
            {planned.suggested && ` The team's load of ${quantity(planned.teamOhm, "Ω", 2)} is far from what a capacity check takes.`}
          </p>
        )}
      </Panel>
      <Panel title="A logger's file">
        <p>
          A table of times and volts, perhaps amps, from a data logger or the robot, as CSV. It is read on this device; a file of a million rows
          takes a minute or two.
        </p>
      </Panel>
      <Panel title="Earlier runs">
        {runs.length === 0 && <p>None yet.</p>}
        <ul class="items">
          {runs.map((run) => (
            <li key={run.entry}>
              <RunLine run={run} code={p.pack.code} />
            </li>
          ))}
        </ul>
      </Panel>
    </Screen>
  );
}

function RunLine({ run, code }: { run: PackRun; code: string }) {
  return (
    <a class="item-link two" href={`/p/${code}/run/${run.entry}`}>
      <span class={run.voided ? "struck" : ""}>
        <strong>{resultWords(run)}</strong>
        <br />
        <span class="small quiet">
          {run.voided ? "Voided" : purposeWord[run.purpose]} · {when(run.started_ms)}
          {run.file && ` · ${run.file}`}
          {run.by && ` · ${run.by}`}
        </span>
        <UnsentTag ids={[run.entry]} />
      </span>
      <Icon name="next" />
    </a>
  );
}

function resultWords({ result, purpose }: PackRun): string {
  if (!result) return "No result";
  if (purpose === "drive") return `Lowest ${volts(result.voltage.lowest_v)}`;
  const { capacity } = result;
  if (!capacity) return "No capacity";
  const said = saidOf(capacity);
  const share = capacity.share_pct ? `, ${plain(Math.round(capacity.share_pct.value))} %` : "";
  return `${capacity.reached ? "" : "≥ "}${interval(capacity.out_ah, "Ah")}${share}${said ? `: ${verdictWord[said].toLowerCase()}` : capacity.not_counted ? ": does not count" : ""}`;
}
