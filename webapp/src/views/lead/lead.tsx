// What a pack's lead costs, part by part, and what another would gain.
import { useRef } from "preact/hooks";
import { call } from "../../core/bridge";
import { useAnswer } from "../../ui/answer";
import { useDraft } from "../../ui/draft";
import { Check, SelectField, TextField } from "../../ui/fields";
import { NumberField } from "../../ui/numberfield";
import { Failed, sentence } from "../../ui/notice";
import { Panel, Screen } from "../../ui/screen";
import type { Pack, PartKind, Team } from "../model";
import { NoPack } from "../nopack";
import { usePack, useTeam } from "../packdata";
import { kindWord, readLead, usualJoint, usualLead, type JointTexts, type LeadDraft, type WireTexts } from "./draft";
import { LeadResult } from "./leadresult";
import { SizeField } from "./sizefield";

export function Lead({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  const team = useTeam();
  if (!pack || !team) return <NoPack code={code} complaint={complaint} />;
  return <LeadForm pack={pack} team={team} />;
}

function LeadForm({ pack, team }: { pack: Pack; team: Team }) {
  const draft = useDraft<LeadDraft>(`lead:${pack.code}`, usualLead(pack, team));
  const result = useRef<HTMLDivElement>(null);
  const value = draft.value.value;
  const { answer, missing, complaint } = useLead(value, pack.code);
  if (!value) return <NoPack code={pack.code} complaint={null} />;
  return (
    <Screen
      wide
      title={`The lead of ${pack.name || pack.code}`}
      back={[`/p/${pack.code}/health`, "Health"]}
      dock={
        <button type="button" class="button main" onClick={() => result.current?.scrollIntoView({ block: "start" })}>
          To the result
        </button>
      }
    >
      <p>From the cells to where the voltage is read or used. What is typed stays on this device.</p>
      <div class="columns">
        <div class="stack">
          <Wires list={value.wires} onChange={(wires) => draft.change({ wires })} />
          <Joints list={value.joints} onChange={(joints) => draft.change({ joints })} />
          <Panel title="At work">
            <div class="fields">
              <NumberField name="peak_a" label="Peak current" quantity="current" text={value.peak} onText={(peak) => draft.change({ peak })} />
              <NumberField
                name="copper_c"
                label="Copper at"
                quantity="temperature"
                help="In °C; empty: 25 °C ± 10 °C"
                text={value.copper}
                onText={(copper) => draft.change({ copper })}
              />
            </div>
            <button type="button" class="button small" onClick={draft.startAfresh}>
              Start afresh
            </button>
          </Panel>
        </div>
        <div class="stack after-jump" ref={result}>
          {missing.length > 0 && (
            <Panel title="Result">
              <p>Still missing before it can be worked out:</p>
              <ul class="bullets">
                {missing.map((line) => (
                  <li key={line}>{line}</li>
                ))}
              </ul>
            </Panel>
          )}
          <Failed what="It cannot be worked out" complaint={complaint} />
          {answer && missing.length === 0 && <LeadResult answer={answer} />}
        </div>
      </div>
    </Screen>
  );
}

/** The list with one item changed, or without it. */
function replaced<T>(list: T[], at: number, part: Partial<T> | null): T[] {
  return list.flatMap((item, i) => (i !== at ? [item] : part === null ? [] : [{ ...item, ...part }]));
}

function Wires({ list, onChange }: { list: WireTexts[]; onChange: (list: WireTexts[]) => void }) {
  return (
    <Panel title="Wires">
      {list.map((wire, i) => {
        const set = (part: Partial<WireTexts>) => onChange(replaced(list, i, part));
        return (
          <fieldset key={i} class="stack part" aria-label={`Wire ${i + 1}`}>
            <TextField name={`wires[${i}].name`} label="Which" text={wire.name} most={60} onText={(name) => set({ name })} />
            <div class="fields">
              <SizeField name={`wires[${i}].size`} text={wire.size} onText={(size) => set({ size })} />
              <NumberField
                name={`wires[${i}].length_mm`}
                label="Length, one way"
                quantity="length"
                help="In mm"
                text={wire.length}
                onText={(length) => set({ length })}
              />
            </div>
            <Check label="Two of them: out and back" checked={wire.back} onChange={(back) => set({ back })} />
            <TakeOut what={`wire ${i + 1}`} onClick={() => onChange(replaced(list, i, null))} />
          </fieldset>
        );
      })}
      <button type="button" class="button small" onClick={() => onChange([...list, { name: "", size: "", length: "", back: true }])}>
        Add a wire
      </button>
    </Panel>
  );
}

const kinds = Object.entries(kindWord);

function Joints({ list, onChange }: { list: JointTexts[]; onChange: (list: JointTexts[]) => void }) {
  return (
    <Panel title="Fuses, contacts and crimps">
      {list.map((joint, i) => {
        const set = (part: Partial<JointTexts>) => onChange(replaced(list, i, part));
        return (
          <fieldset key={i} class="stack part" aria-label={`Joint ${i + 1}, ${kindWord[joint.kind as keyof typeof kindWord] ?? ""}`}>
            <SelectField
              name={`joints[${i}].kind`}
              label="Kind"
              value={joint.kind}
              options={kinds}
              onChoose={(kind) => set({ kind: kind as PartKind })}
            />
            <div class="fields">
              <NumberField name={`joints[${i}].count`} label="How many" quantity="count" text={joint.count} onText={(count) => set({ count })} />
              {joint.kind === "blade-fuse" && (
                <NumberField name={`joints[${i}].fuse_a`} label="Rating" quantity="current" text={joint.fuse} onText={(fuse) => set({ fuse })} />
              )}
              <NumberField
                name={`joints[${i}].ohm`}
                label="One of them measures"
                quantity="resistance"
                tiny
                help={joint.kind === "other" ? "For example 2 mΩ" : "Empty: the usual value of a new one"}
                text={joint.ohm}
                onText={(ohm) => set({ ohm })}
              />
            </div>
            <TakeOut what={`joint ${i + 1}`} onClick={() => onChange(replaced(list, i, null))} />
          </fieldset>
        );
      })}
      <button type="button" class="button small" onClick={() => onChange([...list, usualJoint])}>
        Add a joint
      </button>
    </Panel>
  );
}

function TakeOut({ what, onClick }: { what: string; onClick: () => void }) {
  return (
    <div>
      <button type="button" class="link" onClick={onClick}>
        Take out<span class="unseen"> {what}</span>
      </button>
    </div>
  );
}

/** What the core makes of the lead as it is typed, or what has to be filled in or put right first. */
function useLead(draft: LeadDraft | null, code: string) {
  const ask = async (draft: LeadDraft) => {
    const { lead, complaints } = await readLead(draft);
    const missing = Object.entries(complaints).map(([name, { text }]) => `${where(name, draft)}${sentence(text)}`);
    return { missing, answer: missing.length > 0 ? null : await call("lead", { lead, pack: code }) };
  };
  const { answer: found, complaint } = useAnswer(() => draft && ask(draft), [JSON.stringify(draft), code]);
  return { answer: found?.answer ?? null, missing: found?.missing ?? [], complaint };
}

/** Which part a field belongs to. */
function where(name: string, draft: LeadDraft): string {
  const [, list, index] = /^(wires|joints)\[(\d+)\]/.exec(name) ?? [];
  const i = Number(index);
  if (list === "wires") return `${draft.wires[i]?.name.trim() || `Wire ${i + 1}`}: `;
  if (list === "joints") return `${kindWord[draft.joints[i]?.kind as keyof typeof kindWord] ?? `Joint ${i + 1}`}: `;
  return "";
}
