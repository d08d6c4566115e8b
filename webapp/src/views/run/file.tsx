// A logger's file: how it is written, then the whole of it, then what it shows.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import type { RunFormat, RunOptions, RunPreview, RunPurpose, RunResult } from "../../core/types";
import { record } from "../../data/journal";
import { lookAtRun, readRun, type Progress, type Reading } from "../../data/runfile";
import { go } from "../../router";
import { useAction } from "../../ui/action";
import { lengthComplaint, mostNote, TextField } from "../../ui/fields";
import { readNumbers, useComplaints, type Texts } from "../../ui/form";
import { localTime, timeComplaint } from "../../ui/moment";
import { Failed, Notice, Warnings } from "../../ui/notice";
import { Screen } from "../../ui/screen";
import { say } from "../../ui/toast";
import type { Pack, Team } from "../model";
import { FileFields, fileNumbers, type FileAnswers } from "./filefields";
import { FormatForm } from "./formatform";
import { Preview } from "./preview";
import { Issues, RunResultView } from "./runresult";

interface Props {
  pack: Pack;
  team: Team;
  file: File;
  onClose: () => void;
}

/** What was worked out, and from what. */
interface Done {
  result: RunResult;
  options: RunOptions;
  purpose: RunPurpose;
}

export function FileRun({ pack, team, file, onClose }: Props) {
  const preview = useSignal<RunPreview | null>(null);
  const texts = useSignal<Texts>({ started_at: localTime(file.lastModified) });
  const answers = useSignal<FileAnswers>({ purpose: "drive", full: "", discharge: "" });
  const dated = useSignal(true); // the moment of the run is as it was found, not as somebody typed it
  const progress = useSignal<Progress | null>(null);
  const done = useSignal<Done | null>(null);
  const reading = useRef<Reading | null>(null);
  const form = useComplaints();
  const act = useAction();
  const look = (format?: RunFormat) =>
    act.run(async () => {
      if (format && preview.value) preview.value = { ...preview.value, format }; // what was chosen stands at once
      const found = await lookAtRun(file, pack.cells, format);
      preview.value = found;
      if (dated.value) texts.value = { ...texts.value, started_at: localTime(found.started_ms ?? file.lastModified) };
    });
  useEffect(() => void look(), [file]);
  useEffect(() => () => reading.current?.cancel(), []); // leaving the screen gives the file up

  const start = () =>
    act.run(async () => {
      const format = preview.value?.format;
      const read = await readNumbers(fileNumbers, texts.value);
      const never = texts.value.started_at ? timeComplaint(texts.value.started_at) : null;
      const { purpose, full, discharge } = answers.value;
      const silent = purpose === "capacity" && full === "" && { text: "say whether the pack was full", hint: "only a run from full tells the capacity" };
      if (form.show({ ...read.complaints, ...(never && { started_at: never }), ...(silent && { full: silent }) }) || !format) return;
      const { load_ohm, stop_v, pack_c } = read.numbers;
      const options: RunOptions = {
        cells: pack.cells,
        ...(purpose === "capacity" && { rated_ah: pack.capacity_ah, good_pct: team.capacity_good_pct, end_pct: team.capacity_end_pct }),
        ...(stop_v !== undefined && { stop_v }),
        ...(purpose === "drive" && { brownout_v: team.limits.robot.brownout_v }),
        ...(format.amp_column === 0 && load_ohm !== undefined && { load_ohm }),
        ...(discharge && { discharge }),
        ...(full !== "" && full !== "unknown" && { from_full: full === "yes" }),
        ...(pack_c !== undefined && { pack_c }),
      };
      progress.value = { share: 0, rows: 0 };
      try {
        reading.current = readRun(file, format, options, (so) => (progress.value = so));
        const result = await reading.current.result;
        if (result) done.value = { result, options, purpose };
      } finally {
        progress.value = null;
        reading.current = null;
      }
    }, form.place);

  const keep = () =>
    act.run(async () => {
      const note = (texts.value.note ?? "").trim();
      if (!done.value || lengthComplaint(note, mostNote)) return; // said beside the field
      const { result, options, purpose } = done.value;
      const started = texts.value.started_at;
      const entry = await record("run", pack.code, {
        purpose,
        ...(started && { started_at: new Date(started).toISOString() }),
        options,
        file: nameOf(file),
        result,
        ...(note && { note }),
      });
      say("Run saved on this device");
      go(`/p/${pack.code}/run/${entry.id}`, true);
    });

  const back: [string, string] = [`/p/${pack.code}`, pack.name || pack.code];
  if (progress.value) return <Reads file={file} back={back} progress={progress.value} onCancel={() => reading.current?.cancel()} />;
  if (done.value) {
    return (
      <Screen
        title="What the file shows"
        back={back}
        dock={
          <>
            <button type="button" class="button" onClick={() => (done.value = null)}>
              Change how it is read
            </button>
            <button type="button" class="button main" onClick={keep} aria-disabled={act.busy.value}>
              Save run
            </button>
          </>
        }
      >
        <p class="quiet address">{file.name}</p>
        <Failed show what="Not saved" complaint={act.failed.value} />
        <RunResultView {...done.value} />
        <TextField
          name="note"
          label="Note"
          text={texts.value.note ?? ""}
          most={mostNote}
          onText={(note) => (texts.value = { ...texts.value, note })}
        />
      </Screen>
    );
  }
  const usable = preview.value !== null && preview.value.read > 0;
  return (
    <Screen
      title="Is it read rightly?"
      back={back}
      dock={
        <>
          <button type="button" class="button" onClick={onClose}>
            Another file
          </button>
          {usable && (
            <button type="button" class="button main" onClick={start} aria-disabled={act.busy.value}>
              Read the whole file
            </button>
          )}
        </>
      }
    >
      <p class="quiet address">
        {file.name}, {sizeWords(file.size)}
      </p>
      <Failed show what={preview.value ? "Not read" : "This file cannot be read"} complaint={act.failed.value} />
      {!preview.value && !act.failed.value && <p role="status">Looking at the file …</p>}
      {preview.value && (
        <>
          <Warnings list={preview.value.doubts} />
          <Preview preview={preview.value} onFormat={look} />
          <Issues list={preview.value.issues} />
          <FormatForm preview={preview.value} onFormat={look} />
          <FileFields
            pack={pack}
            team={team}
            preview={preview.value}
            field={(name) =>
              form.field(name, texts.value[name] ?? "", (text) => {
                if (name === "started_at") dated.value = false;
                texts.value = { ...texts.value, [name]: text };
              })
            }
            answers={answers.value}
            unsaid={form.complaints.value.full}
            onAnswer={(part) => {
              if (part.full) form.clear("full");
              answers.value = { ...answers.value, ...part };
            }}
          />
        </>
      )}
    </Screen>
  );
}

/** While the file is read: how far, and the way out. */
function Reads({ file, back, progress, onCancel }: { file: File; back: [string, string]; progress: Progress; onCancel: () => void }) {
  const percent = Math.floor(progress.share * 100);
  return (
    <Screen
      title="Reading the file"
      back={back}
      dock={
        <button type="button" class="button" onClick={onCancel}>
          Stop reading
        </button>
      }
    >
      <p class="quiet address">{file.name}</p>
      <progress max={100} value={percent} aria-label="How much of the file is read" />
      <p class="figure">
        <span class="value">{percent} %</span> <span class="spread">{progress.rows.toLocaleString("en-GB")} rows</span>
      </p>
      <Notice>Leaving this screen stops the reading. Nothing is saved yet.</Notice>
    </Screen>
  );
}

const mostName = 100; // characters that an entry takes

function nameOf(file: File): string {
  return [...file.name].slice(-mostName).join("");
}

function sizeWords(bytes: number): string {
  if (bytes < 1000) return `${bytes} bytes`;
  return bytes < 1e6 ? `${(bytes / 1000).toFixed(0)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}
