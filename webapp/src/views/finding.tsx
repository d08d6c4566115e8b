// Record what an inspection saw.
import { record } from "../data/journal";
import { go } from "../router";
import { useAction } from "../ui/action";
import { AskInitials } from "../ui/askinitials";
import { useDraft } from "../ui/draft";
import { Choice, lengthComplaint, mostWords, TextField } from "../ui/fields";
import { findingWord } from "../ui/format";
import { useComplaints } from "../ui/form";
import { Failed, Notice } from "../ui/notice";
import { Restored } from "../ui/restored";
import { Screen } from "../ui/screen";
import { say } from "../ui/toast";
import type { Finding } from "./model";
import { NoPack } from "./nopack";
import { usePack } from "./packdata";

interface FindingDraft {
  finding: Finding | "";
  text: string;
}

const choices = Object.entries(findingWord) as [Finding, string][];

export function AddFinding({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  const draft = useDraft<FindingDraft>(`finding:${code}`, { finding: "", text: "" });
  const { complaints, show, clear, field } = useComplaints();
  const save = useAction();
  const value = draft.value.value;
  if (!pack || !value) return <NoPack code={code} complaint={complaint} />;
  const add = () =>
    save.run(async () => {
      const text = value.text.trim();
      if (value.finding === "") {
        show({ finding: { text: "choose what you saw", hint: "" } });
        return;
      }
      const missing = value.finding === "other-safety" && text === "" ? { text: "say what the danger is", hint: "" } : null;
      const wrong = missing ?? lengthComplaint(text, mostWords);
      if (show(wrong ? { text: wrong } : {})) return;
      await record("inspection", code, { finding: value.finding, ...(text && { text }) });
      await draft.drop();
      say("Finding saved");
      go(`/p/${code}`, true);
    });
  return (
    <Screen
      title="What did you see?"
      back={[`/p/${code}`, pack.name || code]}
      dock={
        <button type="button" class="button main" onClick={add} aria-disabled={save.busy.value}>
          Save finding
        </button>
      }
    >
      <AskInitials />
      <Restored shown={draft.restored.value} onDrop={draft.startAfresh} />
      <Choice
        legend="Finding"
        name="finding"
        options={choices}
        value={value.finding}
        complaint={complaints.value.finding}
        onChoose={(finding) => {
          clear("finding");
          draft.change({ finding });
        }}
      />
      <TextField
        {...field("text", value.text, (text) => draft.change({ text }))}
        label="In your words"
        lines
        most={mostWords}
      />
      <Notice warm>
        <strong>Swollen, leaking, hot or smelling? Do not charge or connect it.</strong>
        <p>Tell the adult in charge. Put the pack outside or on a surface that cannot burn, terminals covered, away from people.</p>
      </Notice>
      <Failed show what="Not saved" complaint={save.failed.value} />
    </Screen>
  );
}
