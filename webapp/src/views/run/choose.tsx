// Runs of a pack: make one by hand, read a logger's file, look at earlier ones.
import { type Signal } from "@preact/signals";
import { useRef } from "preact/hooks";
import { plain, volts, when } from "../../ui/format";
import { Icon } from "../../ui/icon";
import { Panel, Screen } from "../../ui/screen";
import { UnsentTag } from "../../ui/unsenttag";
import type { Pack } from "../model";
import type { StepProps } from "./step";
import { interval, purposeWord, verdictWord } from "./words";

type PackRun = Pack["runs"][number];

export function Choose({ file, ...p }: StepProps & { file: Signal<File | null> }) {
  const input = useRef<HTMLInputElement>(null);
  const take = () => {
    const chosen = input.current?.files?.[0];
    if (chosen) file.value = chosen;
    if (input.current) input.current.value = ""; // the same file may be chosen again
  };
  const runs = p.pack.runs;
  return (
    <Screen
      title={`Runs of ${p.pack.name || p.pack.code}`}
      back={[`/p/${p.pack.code}`, p.pack.name || p.pack.code]}
      dock={
        <>
          <button type="button" class="button" onClick={() => input.current?.click()}>
            Read a file
          </button>
          <button type="button" class="button main" onClick={() => p.change({ step: "setup" })}>
            Capacity check
          </button>
        </>
      }
    >
      {p.restored}
      {/* no filter: phones know CSV by many names */}
      <input ref={input} hidden type="file" name="log" onChange={take} />
      <Panel title="Capacity check">
        <p>With a resistor and a meter: the app asks for a reading every few minutes until the pack is down. It takes hours beside it.</p>
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
  const share = capacity.share_pct ? `, ${plain(Math.round(capacity.share_pct.value))} %` : "";
  return `${capacity.reached ? "" : "≥ "}${interval(capacity.out_ah, "Ah")}${share}${capacity.verdict ? `: ${verdictWord[capacity.verdict].toLowerCase()}` : ""}`;
}
