// Charges of a pack: note one, see what earlier ones came to and what is due.
import type { ChargeEnd, ChargingStatus } from "../../core/types";
import { record } from "../../data/journal";
import { restore, useAction, voidEntry } from "../../ui/action";
import { AskInitials } from "../../ui/askinitials";
import { useDraft } from "../../ui/draft";
import { Facts, type Fact } from "../../ui/facts";
import { Choice, TextField } from "../../ui/fields";
import { daysAgo, plain, quantity, when } from "../../ui/format";
import { useComplaints } from "../../ui/form";
import { localTime } from "../../ui/moment";
import { NumberField } from "../../ui/numberfield";
import { Failed, Notice, sentence, type Complaint } from "../../ui/notice";
import { Restored } from "../../ui/restored";
import { Panel, Screen } from "../../ui/screen";
import { say } from "../../ui/toast";
import { UnsentTag } from "../../ui/unsenttag";
import { useHealth } from "../health/data";
import type { Pack } from "../model";
import { NoPack } from "../nopack";
import { usePack } from "../packdata";
import { Unsafe } from "../unsafe";
import { SaveCalendar } from "./calendar";
import { DueList } from "./due";
import { bodyOf, chargeNumbers, empty, endWord, mostCharger, mostText, purposeWord, type ChargeDraft } from "./form";

type PackCharge = Pack["charges"][number];

export function Charges({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  const { health, complaint: noHealth } = useHealth(code);
  const draft = useDraft<ChargeDraft>(`charge:${code}`, empty);
  const form = useComplaints();
  const save = useAction();
  const value = draft.value.value;
  if (!pack || !value) return <NoPack code={code} complaint={complaint} />;
  const name = pack.name || code;
  const keep = () =>
    save.run(async () => {
      const { body, complaints } = await bodyOf(value);
      if (form.show(complaints)) return;
      const made = await record("charge", code, body);
      await draft.drop();
      say("Charge saved on this device", () => restore(code, made.id));
    }, form.place);
  return (
    <Screen
      title={`Charges of ${name}`}
      back={[`/p/${code}`, name]}
      wide
      dock={
        <button type="button" class="button main" onClick={keep} aria-disabled={save.busy.value}>
          Save charge
        </button>
      }
    >
      <Restored shown={draft.restored.value} onDrop={draft.startAfresh} />
      <Unsafe findings={pack.decision.safety}>
        <p>Do not charge it either.</p>
      </Unsafe>
      <div class="columns">
        <div class="stack">
          <AskInitials />
          <Form draft={value} pack={pack} change={draft.change} form={form} />
          <Failed show what="Not saved" complaint={save.failed.value} />
        </div>
        <div class="stack">
          <Status status={health?.charging ?? null} complaint={noHealth} />
          <List pack={pack} status={health?.charging ?? null} />
        </div>
      </div>
    </Screen>
  );
}

interface FormProps {
  draft: ChargeDraft;
  pack: Pack;
  change: (part: Partial<ChargeDraft>) => void;
  form: ReturnType<typeof useComplaints>;
}

function Form({ draft, pack, change, form }: FormProps) {
  const field = (name: string) =>
    form.field(name, draft.texts[name] ?? "", (text) => change({ texts: { ...draft.texts, [name]: text } }));
  const number = (name: keyof typeof chargeNumbers) => ({ ...field(name), quantity: chargeNumbers[name].quantity });
  const running = draft.texts.started_at && !draft.texts.ended_at;
  const chargers = [...new Set(pack.charges.map((charge) => charge.charger ?? ""))].filter(Boolean);
  return (
    <Panel title="Note a charge">
      <p class="small">
        Charge attended, on something that cannot burn, never a damaged or hot pack. The charger's and the cell maker's instructions come first.
      </p>
      <Moment {...field("started_at")} label="Started" />
      {running && <Notice>This charge is kept on this device as running. Come back when it has ended, then save it.</Notice>}
      <Moment {...field("ended_at")} label="Ended" help="Empty where nobody knows" />
      <Choice
        legend="What ended it"
        name="ended"
        options={Object.entries(endWord) as [ChargeEnd, string][]}
        value={draft.ended}
        complaint={form.complaints.value.ended}
        onChoose={(ended) => {
          form.clear("ended");
          change({ ended });
        }}
      />
      <Choice
        legend="What for"
        name="purpose"
        options={Object.entries(purposeWord) as [ChargeDraft["purpose"], string][]}
        value={draft.purpose}
        onChoose={(purpose) => change({ purpose })}
      />
      <div class="fields">
        <TextField {...field("charger")} label="Charger" list={chargers} most={mostCharger} />
        <NumberField {...number("current_a")} label="Current" help="In A" />
        <NumberField {...number("put_in_ah")} label="Put in" help="In Ah, as the charger shows; 2500 mAh is read too" />
        <NumberField {...number("missing_ah")} label="Taken out before" help="In Ah, where known" />
      </div>
      <TextField {...field("text")} label="Remark" most={mostText} />
    </Panel>
  );
}

interface MomentProps {
  name: string;
  label: string;
  help?: string;
  text: string;
  complaint?: Complaint;
  onText: (text: string) => void;
}

/** A date and time, with a button for now. */
function Moment(p: MomentProps) {
  return (
    <div class="moment">
      <TextField {...p} type="datetime-local" />
      <button type="button" class="button" onClick={() => p.onText(localTime(Date.now()))}>
        {p.label} now
      </button>
    </div>
  );
}

function Status({ status, complaint }: { status: ChargingStatus | null; complaint: Complaint | null }) {
  if (!status) return <Failed what="What is due cannot be worked out" complaint={complaint} />;
  const facts: Fact[] = [
    ["Cycles", plain(status.cycles)],
    ["Cycles by charge put in", quantity(status.cycles_by_ah, "", 2)],
    ["Last charge", status.last_charge_ms === null ? "none noted" : daysAgo(status.last_charge_ms)],
  ];
  if (status.left_pct !== null) facts.push(["Left in it, roughly", `${status.left_pct.toFixed(0)} %`]);
  return (
    <Panel title="What is due">
      <DueList due={status.due} nothing={status.nothing} />
      <Facts list={facts} />
      {status.left_text && <p class="small quiet">{sentence(status.left_text)}</p>}
      <SaveCalendar />
    </Panel>
  );
}

function List({ pack, status }: { pack: Pack; status: ChargingStatus | null }) {
  return (
    <Panel title="Charges so far">
      {pack.charges.length === 0 && <p>None yet.</p>}
      <ul class="items">
        {pack.charges.map((charge) => (
          <li key={charge.entry}>
            <Line charge={charge} code={pack.code} check={status?.checks.find((one) => one.entry === charge.entry)} />
          </li>
        ))}
      </ul>
    </Panel>
  );
}

function Line({ charge, code, check }: { charge: PackCharge; code: string; check: ChargingStatus["checks"][number] | undefined }) {
  const act = useAction();
  const about = <span class="unseen"> the charge of {when(charge.started_ms)}</span>;
  const facts = [
    charge.put_in_ah !== undefined && `${plain(charge.put_in_ah)} Ah put in`,
    charge.current_a !== undefined && `at ${plain(charge.current_a)} A`,
    endWord[charge.ended],
    charge.charger && `charger: ${charge.charger}`,
  ].filter(Boolean);
  const odd = check && !charge.voided && (check.verdict === "too-little" || check.verdict === "too-much");
  return (
    <>
      <p class={charge.voided ? "struck" : ""}>
        <strong>{when(charge.started_ms)}</strong> · {purposeWord[charge.purpose]}
        {charge.by && ` · ${charge.by}`} <UnsentTag ids={[charge.entry]} />
      </p>
      <p class="small">{facts.join(" · ")}</p>
      {charge.text && <p class="small">{charge.text}</p>}
      {check && !charge.voided && (odd ? <Notice warm>{sentence(check.text)}</Notice> : <p class="small quiet">{sentence(check.text)}</p>)}
      <div class="row">
        {charge.voided ? (
          <button type="button" class="link" onClick={() => act.run(() => restore(code, charge.voided_by ?? ""))}>
            Bring back{about}
          </button>
        ) : (
          <button type="button" class="link" onClick={() => act.run(() => voidEntry(code, charge.entry, "Charge voided"))}>
            Void as mistaken{about}
          </button>
        )}
      </div>
      <Failed what="Not saved" complaint={act.failed.value} />
    </>
  );
}
