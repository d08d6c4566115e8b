// The quick form: everything on one screen, for those who know the drill and
// for typing in what was written on a paper sheet.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { call } from "../../core/bridge";
import { barred } from "../../data/access";
import { record } from "../../data/journal";
import { go } from "../../router";
import { useAction } from "../../ui/action";
import { AskInitials } from "../../ui/askinitials";
import { useDraft } from "../../ui/draft";
import { Check, lengthComplaint, mostNote, SelectField, TextField } from "../../ui/fields";
import { methodWord } from "../../ui/format";
import { useComplaints, type Texts } from "../../ui/form";
import { NumberField } from "../../ui/numberfield";
import { complaintOf, Failed, Notice, Warnings, type Complaint } from "../../ui/notice";
import { Restored } from "../../ui/restored";
import { Panel, Screen } from "../../ui/screen";
import { say } from "../../ui/toast";
import { CautionList } from "../cautions";
import { CircumstanceFields } from "../circumstancefields";
import type { Assessment, Method } from "../model";
import { useNewcomer } from "../newcomer";
import { NoPack } from "../nopack";
import { usePack, useTeam } from "../packdata";
import { Fold, Readout } from "../result";
import { Unsafe } from "../unsafe";
import { UsualValues } from "../usualvalues";
import { bodyOf, empty, type QuickDraft } from "./body";
import { meterFields, methodForms, readAfter, teamTexts } from "./methods";
import { Readings } from "./readings";

const methods = Object.entries(methodWord) as [Method, string][];

export function Quick({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  const team = useTeam();
  const draft = useDraft<QuickDraft>(`quick:${code}`, empty);
  const { complaints, show, place, clear, field } = useComplaints();
  const save = useAction();
  const value = draft.value.value ?? empty;
  const texts = { ...teamTexts(team), ...value.texts };
  const live = useLive(code, value, texts);
  const newcomer = useNewcomer(code, complaint !== null);
  const alone = barred() || newcomer === true; // nobody of the team may have shown this person the drill
  if (complaint && newcomer === false) return <NoPack code={code} complaint={complaint} />;
  const form = methodForms[value.method];
  const text = (name: string) =>
    field(name, texts[name] ?? "", (typed) => draft.change({ texts: { ...value.texts, [name]: typed } }));
  const keep = () =>
    save.run(async () => {
      if (!team) return; // its load and meter are still to come
      const read = await bodyOf(value, texts);
      const note = lengthComplaint(texts.note ?? "", mostNote);
      if (show({ ...read.complaints, ...(note && { note }) })) return;
      await call("assess", { kind: form.kind, pack: code, body: read.body }); // what cannot be computed is not worth saving
      const entry = await record(form.kind, code, read.body);
      await draft.drop();
      say("Test saved on this device");
      go(`/p/${code}/test/${entry.id}`, true);
    }, place);
  const name = pack?.name || code;
  return (
    <Screen
      title={`Quick form, ${name}`}
      back={[`/p/${code}`, name]}
      dock={
        <button type="button" class="button main" onClick={keep} aria-disabled={save.busy.value || !team}>
          Save test
        </button>
      }
    >
      <Unsafe findings={pack?.decision.safety ?? []}>
        <p>A test made before that can still be typed in from paper.</p>
      </Unsafe>
      {newcomer && (
        <Notice>
          <strong>This browser does not know pack {code}.</strong>
          <p>The result is worked out without its profile, and kept. It joins the pack when both are on the server.</p>
        </Notice>
      )}
      <UsualValues />
      {alone && (
        <Panel title="Before you connect">
          <CautionList />
        </Panel>
      )}
      <AskInitials />
      <Restored shown={draft.restored.value} onDrop={draft.startAfresh} />
      <SelectField
        name="method"
        label="Method"
        value={value.method}
        options={methods}
        onChoose={(method) => draft.change({ method: method as Method })}
      />
      <Readings draft={value} field={text} onRows={(rows) => draft.change({ rows })} />
      <Live live={live} />
      <Panel title={form.kind === "load-test" ? "Load and meter" : "Instrument"}>
        <div class="fields">
          {[...form.fields, ...(form.meter ? [...meterFields, readAfter] : [])].map((ask) => (
            <NumberField key={ask.name} {...text(ask.name)} label={ask.label} quantity={ask.quantity} tiny={ask.tiny} help={ask.help} />
          ))}
        </div>
      </Panel>
      <Panel title="Circumstances">
        <CircumstanceFields
          restRule={team?.rest_min}
          values={{ charge: value.charge, rested_min: texts.rested_min ?? "", temperature_c: texts.temperature_c ?? "" }}
          complaints={complaints.value}
          onChange={({ charge, ...typed }) => {
            for (const name of Object.keys(typed)) clear(name);
            draft.change({ ...(charge !== undefined && { charge }), texts: { ...value.texts, ...typed } });
          }}
        />
        <TextField {...text("note")} label="Note" most={mostNote} />
        <Check
          label="Typed in from paper: the test was made at another time"
          checked={value.paper}
          onChange={(paper) => draft.change({ paper })}
        />
        {value.paper && (
          <TextField
            {...field("taken_at", value.taken, (taken) => draft.change({ taken }))}
            label="Date and time of the test"
            type="datetime-local"
          />
        )}
      </Panel>
      {!alone && (
        <Fold title="Cautions">
          <CautionList />
        </Fold>
      )}
      <Failed show what="Not saved" complaint={save.failed.value} />
    </Screen>
  );
}

interface LiveResult {
  assessment: Assessment | null;
  complaint: Complaint | null;
  missing: string; // what a result waits for once the readings are there; empty before
}

const nothing: LiveResult = { assessment: null, complaint: null, missing: "" };

/** The result of what is typed so far, as soon as it is complete. */
function useLive(code: string, draft: QuickDraft, texts: Texts): LiveResult {
  const found = useSignal<LiveResult>(nothing);
  const key = JSON.stringify([code, draft, texts]);
  useEffect(() => {
    let current = true;
    const set = (live: LiveResult) => current && (found.value = live);
    void (async () => {
      const { body, complaints } = await bodyOf(draft, texts);
      const [first] = Object.values(complaints);
      const columns = new Set(methodForms[draft.method].columns.map((column) => column.name));
      const unread = Object.keys(complaints).some((name) => columns.has(name.replace(/\.\d+$/, "")));
      if (first) return set({ ...nothing, missing: unread ? "" : first.text });
      try {
        set({ ...nothing, assessment: await call("assess", { kind: methodForms[draft.method].kind, pack: code, body }) });
      } catch (error) {
        set({ ...nothing, complaint: complaintOf(error) });
      }
    })();
    return () => {
      current = false;
    };
  }, [key]);
  return found.value;
}

function Live({ live }: { live: LiveResult }) {
  if (live.complaint) return <Failed what="No result" complaint={live.complaint} />;
  if (!live.assessment) {
    return (
      <p class="quiet">
        {live.missing
          ? `The result appears here as soon as this is mended: ${live.missing}.`
          : "The result appears here as soon as the readings are complete."}
      </p>
    );
  }
  return (
    <>
      <Readout result={live.assessment} decision={live.assessment} />
      <Warnings list={live.assessment.warnings} />
    </>
  );
}
