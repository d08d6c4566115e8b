// Every value that a profile or the team's settings ever had, by the entry that
// set it; overtaken ones are marked, and a mistaken entry can be voided.
import { role } from "../data/status";
import { restore, useAction, voidEntry } from "../ui/action";
import { capital, when } from "../ui/format";
import { Failed } from "../ui/notice";
import type { Change } from "./model";
import { Fold } from "./result";

const fieldWord: Record<string, string> = {
  name: "Name",
  capacity_ah: "Capacity, Ah",
  cells: "Cells in series",
  in_service: "In service since",
  fuse_a: "Fuse, A",
  lead_mm2: "Lead, mm²",
  lead_length_mm: "Lead length, mm",
  connector: "Connector",
  retired: "Retired",
  retired_why: "Why retired",
  competition_ohm: "Limit for competition, Ω",
  practice_ohm: "Limit for practice, Ω",
  robot: "Robot",
  meter: "Meter",
  load: "Load",
  read_after_s: "Read after, s",
  repeats: "Readings per test",
  rest_min: "Rest after charging, min",
  retest_days: "A test is old after, days",
  base_url: "Address on labels",
  event_name: "Next event",
  event_date: "First day of the event",
  wanted_packs: "Packs wanted",
  wanted_pct: "How sure, %",
  pack_price: "Price of a pack",
  currency: "Currency",
  delivery_days: "Days to a ready pack",
  to_20c: "Compared at 20 °C",
  capacity_good_pct: "Capacity good from, %",
  capacity_end_pct: "Capacity at its end below, %",
  charge_factor: "Charge put in, as a multiple of what was missing",
  self_discharge_pct_month: "Usual loss in 30 days, %",
  top_up_days: "Top-up after, days",
  condition_days: "Full slow cycle after, days",
  reference_pack: "Reference pack",
};

interface Props {
  title: string;
  what: string; // "profile entry"
  code: string; // of the pack; empty for the team
  changes: Change[]; // newest first
}

export function History({ title, what, code, changes }: Props) {
  if (changes.length === 0) return null;
  const entries = [...new Set(changes.map((change) => change.entry))];
  return (
    <Fold title={title}>
      <ul class="items">
        {entries.map((entry) => (
          <li key={entry}>
            <EntryLine code={code} what={what} changes={changes.filter((change) => change.entry === entry)} />
          </li>
        ))}
      </ul>
    </Fold>
  );
}

function EntryLine({ code, what, changes }: { code: string; what: string; changes: Change[] }) {
  const act = useAction();
  const stamp = changes[0];
  if (!stamp) return null;
  const voiding = stamp.voided_by;
  const about = <span class="unseen"> {`${what} of ${when(stamp.at_ms)}`}</span>;
  return (
    <>
      <p class="small quiet">
        {when(stamp.at_ms)}
        {stamp.by && ` · ${stamp.by}`}
        {stamp.voided && " · voided"}
      </p>
      {changes.map((change) => (
        <p key={change.field} class={change.overtaken || change.voided ? "struck" : ""}>
          {fieldWord[change.field] ?? change.field}: <strong>{valueWords(change)}</strong>
          {change.overtaken && !change.voided && " (overtaken)"}
        </p>
      ))}
      <div class="row">
        {code === "" && role.value === "crew" ? null /* the server would refuse it */ : voiding ? (
          <button type="button" class="link" onClick={() => act.run(() => restore(code, voiding))}>
            Bring back{about}
          </button>
        ) : (
          <button type="button" class="link" onClick={() => act.run(() => voidEntry(code, stamp.entry, `${capital(what)} voided`))}>
            Void as mistaken{about}
          </button>
        )}
      </div>
      <Failed what="Not saved" complaint={act.failed.value} />
    </>
  );
}

function valueWords({ field, value }: Change): string {
  if (field === "practice_ohm" && value === "0") return "worked out from the robot";
  return value || "empty";
}
