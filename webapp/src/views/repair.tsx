// Record work that was done on a pack.
import { record } from "../data/journal";
import { bestNowMS } from "../data/status";
import { go } from "../router";
import { useAction } from "../ui/action";
import { AskInitials } from "../ui/askinitials";
import { useDraft } from "../ui/draft";
import { Choice, lengthComplaint, mostWords, TextField } from "../ui/fields";
import { dateComplaint, daysUntil, useComplaints, type Complaints } from "../ui/form";
import { localDate } from "../ui/moment";
import { Failed, Notice } from "../ui/notice";
import { Restored } from "../ui/restored";
import { Screen } from "../ui/screen";
import { say } from "../ui/toast";
import type { RepairPart } from "./model";
import { NoPack } from "./nopack";
import { usePack } from "./packdata";
import { repairWord } from "./repairwords";

interface RepairDraft {
  part: RepairPart | "";
  text: string;
  day: string; // YYYY-MM-DD; empty: today
}

/** Whether a day has to be recorded: today's is known to the minute by the entry, so that tests before it stay before it. */
function pastDay(day: string): boolean {
  return day !== "" && day !== localDate(bestNowMS());
}

const parts = Object.entries(repairWord) as [RepairPart, string][];

export function Repair({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  const draft = useDraft<RepairDraft>(`repair:${code}`, { part: "", text: "", day: "" });
  const { complaints, show, place, clear, field } = useComplaints();
  const save = useAction();
  const value = draft.value.value;
  if (!pack || !value) return <NoPack code={code} complaint={complaint} />;
  const keep = () =>
    save.run(async () => {
      if (show(wrongWith(value))) return;
      const text = value.text.trim();
      await record("repair", code, { part: value.part, text, ...(pastDay(value.day) && { day: value.day }) });
      await draft.drop();
      say("Repair saved");
      go(`/p/${code}/health`, true);
    }, place);
  return (
    <Screen
      title="What was repaired?"
      back={[`/p/${code}/health`, "Health"]}
      dock={
        <button type="button" class="button main" onClick={keep} aria-disabled={save.busy.value}>
          Save repair
        </button>
      }
    >
      <p>{pack.name || code}: tests after a repair are compared anew, so that a mended lead is not taken for younger cells.</p>
      <AskInitials />
      <Restored shown={draft.restored.value} onDrop={draft.startAfresh} />
      <Choice
        legend="Part"
        name="part"
        options={parts}
        value={value.part}
        complaint={complaints.value.part}
        onChoose={(part) => {
          clear("part");
          draft.change({ part });
        }}
      />
      {value.part === "cells" && (
        <Notice warm>
          <strong>Opening a pack is for qualified people only.</strong>
          <p>Cells stay live, and the event's rules may forbid it. Local rules and the cell maker's instructions come first.</p>
        </Notice>
      )}
      {value.part === "other" && <p>Something that changes no resistance, such as new wrapping: no new baseline starts.</p>}
      <TextField
        {...field("text", value.text, (text) => draft.change({ text }))}
        label="What was done"
        lines
        help="For example: crimp at the plug made anew"
        most={mostWords}
      />
      <TextField {...field("day", value.day, (day) => draft.change({ day }))} label="Day" type="date" help="Empty: today" />
      <Failed show what="Not saved" complaint={save.failed.value} />
    </Screen>
  );
}

function wrongWith({ part, text, day }: RepairDraft): Complaints {
  const found: Complaints = {};
  if (part === "") found.part = { text: "choose the part", hint: "" };
  const missing = text.trim() === "" ? { text: "say what was done", hint: "a few words are enough" } : null;
  const wrong = missing ?? lengthComplaint(text, mostWords);
  if (wrong) found.text = wrong;
  const ahead = day !== "" && daysUntil(day, bestNowMS()) > 0 ? { text: "this day is still to come", hint: "record it once it is done" } : null;
  const odd = day === "" ? null : (dateComplaint(day) ?? ahead);
  if (odd) found.day = odd;
  return found;
}
