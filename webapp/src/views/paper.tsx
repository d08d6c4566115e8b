// Paper: labels, the charge checklist of an event day, a blank test sheet. The
// server draws them, so it must be in reach.
import { type Signal, useSignal } from "@preact/signals";
import { overview } from "../data/fleet";
import { reachable } from "../data/status";
import { Check, Choice, SelectField, TextField, tooLong } from "../ui/fields";
import { count } from "../ui/format";
import { dateComplaint, useComplaints } from "../ui/form";
import { NumberField } from "../ui/numberfield";
import { Notice } from "../ui/notice";
import { Screen, Panel } from "../ui/screen";
import { LabelAddress } from "./labeladdress";
import type { Row } from "./model";
import { askedBase, labelBase } from "./labelbase";
import { PaperChoice, PDF, type PaperSize, type Query } from "./pdf";

const sizes: [string, string][] = [
  ["a4-3x8", "A4 sheet, 3 × 8 of 70 × 37 mm"],
  ["a4-3x7", "A4 sheet, 3 × 7 of 63.5 × 38.1 mm"],
  ["letter-3x10", "US Letter sheet, 3 × 10 of 2.625 × 1 in"],
  ["roll-62x29", "Roll, 62 × 29 mm"],
  ["roll-50x30", "Roll, 50 × 30 mm"],
];

const typedCount = { quantity: "count" as const };

/** What the field of a count needs beside its words. */
function countField(name: string, value: Signal<string>, form: ReturnType<typeof useComplaints>) {
  return { ...form.field(name, value.value, (text) => (value.value = text)), quantity: "count" as const };
}

export function Paper() {
  const fleet = overview.value;
  const packs = fleet?.packs.filter((row) => !row.retired) ?? [];
  return (
    <Screen title="Paper" back={["/", "Packs"]} wide>
      {reachable.value === false && (
        <Notice warm live="status">
          <strong>The server cannot be reached.</strong>
          <p>It draws these pages, so print them before the event, while the phone or laptop is connected to it.</p>
        </Notice>
      )}
      <div class="columns">
        <Labels packs={packs} />
        <div class="stack">
          <Checklist />
          <TestSheet />
        </div>
      </div>
    </Screen>
  );
}

function Labels({ packs }: { packs: Row[] }) {
  const left = useSignal<ReadonlySet<string>>(new Set()); // packs not wanted
  const size = useSignal("a4-3x8");
  const start = useSignal("1");
  const copies = useSignal("1");
  const marks = useSignal(false);
  const ruler = useSignal(false);
  const level = useSignal<"Q" | "H">("Q");
  const form = useComplaints();
  const shift = useShift(form);
  const chosen = packs.filter((row) => !left.value.has(row.code));
  const toggle = (code: string, on: boolean) => {
    const next = new Set(left.value);
    if (on) next.delete(code);
    else next.add(code);
    left.value = next;
  };
  const everyone = chosen.length === packs.length;
  const query: Query = [
    ...(everyone ? [] : chosen.map((row): [string, string] => ["pack", row.code])),
    ["size", size.value],
    ["start", start.value.trim()],
    ["copies", copies.value.trim()],
    ["level", level.value],
    ["base-url", askedBase()],
    ["cut-marks", marks.value ? "true" : ""],
    ["ruler", ruler.value ? "true" : ""],
    ...shift.query,
  ];
  return (
    <Panel title="Labels">
      <fieldset class="field">
        <legend class="legend">Packs</legend>
        <div class="fields">
          {packs.map((row) => (
            <Check
              key={row.code}
              label={`${row.name || "No name"} ${row.code}`}
              checked={!left.value.has(row.code)}
              onChange={(on) => toggle(row.code, on)}
            />
          ))}
        </div>
        {packs.length > 1 && (
          <button type="button" class="button small" onClick={() => (left.value = new Set(everyone ? packs.map((row) => row.code) : []))}>
            {everyone ? "Choose none" : "Choose all"}
          </button>
        )}
      </fieldset>
      <SelectField name="size" label="Label size" value={size.value} options={sizes} onChoose={(value) => (size.value = value)} />
      <div class="fields">
        <NumberField {...countField("start", start, form)} label="Start at label" help="On a used sheet: first free one" />
        <NumberField {...countField("copies", copies, form)} label="Copies of each" />
      </div>
      <Choice
        legend="QR error correction"
        name="level"
        options={[
          ["Q", "Q, usual"],
          ["H", "H, for glossy tape"],
        ]}
        value={level.value}
        onChoose={(value) => (level.value = value)}
      />
      <Check label="Cut marks, for plain paper" checked={marks.value} onChange={(on) => (marks.value = on)} />
      <Check label="Check page with a 100 mm ruler" checked={ruler.value} onChange={(on) => (ruler.value = on)} />
      {shift.fields}
      <LabelAddress />
      {chosen.length === 0 ? (
        <p role="status">{packs.length === 0 ? "There is no pack yet." : "Choose at least one pack."}</p>
      ) : (
        <PDF
          key={labelBase()} // with another address they are other labels
          name="labels"
          what={`labels for ${count(chosen.length, "pack")}`}
          query={query}
          numbers={{ start: typedCount, copies: typedCount, ...shift.numbers }}
          show={form.show}
        />
      )}
      <p class="small quiet">Print at 100 %, not fitted to the page. Only packs already sent to the server can be on them.</p>
    </Panel>
  );
}

/** For a printer that prints off to one side: two fields in a fold, and what they add to the query. */
function useShift(form: ReturnType<typeof useComplaints>) {
  const across = useSignal("");
  const along = useSignal("");
  const left = useSignal(false);
  const up = useSignal(false);
  const side = (name: string, text: Signal<string>, back: Signal<boolean>, [label, forth, away]: [string, string, string]) => (
    <div class="stack">
      <NumberField {...countField(name, text, form)} quantity="length" label={label} help="In mm; empty: not at all" />
      <Choice
        legend="Which way"
        name={`${name}-way`}
        options={[
          ["forth", forth],
          ["back", away],
        ]}
        value={back.value ? "back" : "forth"}
        onChoose={(way) => (back.value = way === "back")}
      />
    </div>
  );
  const fields = (
    <details>
      <summary>Printer shifts the print</summary>
      <div class="stack">
        <p class="small">Print the check page, measure how far all of it is off, and move it back by that.</p>
        {side("offset-x", across, left, ["Move sideways", "To the right", "To the left"])}
        {side("offset-y", along, up, ["Move up or down", "Down", "Up"])}
      </div>
    </details>
  );
  const query: Query = [
    ["offset-x", across.value.trim()],
    ["offset-y", along.value.trim()],
  ];
  const numbers = {
    "offset-x": { quantity: "length" as const, negative: left.value },
    "offset-y": { quantity: "length" as const, negative: up.value },
  };
  return { fields, query, numbers };
}

const mostTitle = 60; // characters that fit above the checklist

function Checklist() {
  const title = useSignal("");
  const date = useSignal("");
  const matches = useSignal("10");
  const chargers = useSignal("4");
  const form = useComplaints();
  const paper = useSignal<PaperSize>("A4");
  const long = tooLong(title.value, mostTitle);
  const never = date.value ? dateComplaint(date.value) : null;
  return (
    <Panel title="Charge checklist">
      <p>Packs down, matches across: charged, rested, fitted, voltages, initials.</p>
      <TextField {...form.field("title", title.value, (text) => (title.value = text))} label="Event" most={mostTitle} />
      <div class="fields">
        <TextField {...form.field("date", date.value, (text) => (date.value = text))} label="Date" type="date" />
        <NumberField {...countField("matches", matches, form)} label="Matches" />
        <NumberField {...countField("chargers", chargers, form)} label="Chargers" />
      </div>
      <PaperChoice legend="Paper of the checklist" name="checklist-paper" paper={paper} />
      <PDF
        name="checklist"
        what="checklist"
        query={[
          ["title", title.value.trim()],
          ["date", date.value],
          ["matches", matches.value.trim()],
          ["chargers", chargers.value.trim()],
          ["paper", paper.value],
        ]}
        numbers={{ matches: typedCount, chargers: typedCount }}
        faults={{ ...(long && { title: { text: long, hint: "shorten it" } }), ...(never && { date: never }) }}
        show={form.show}
      />
    </Panel>
  );
}

function TestSheet() {
  const paper = useSignal<PaperSize>("A4");
  return (
    <Panel title="Blank test sheet">
      <p>Steps and cautions, for when phones fail. Type the readings in later with a pack's quick form, marked as typed in from paper.</p>
      <PaperChoice legend="Paper of the test sheet" name="testsheet-paper" paper={paper} />
      <PDF name="testsheet" what="test sheet" query={[["paper", paper.value]]} />
    </Panel>
  );
}
