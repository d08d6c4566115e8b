// What inspections saw on a pack, and closing a finding once it is dealt with.
import { record } from "../data/journal";
import { restore, useAction, voidEntry } from "../ui/action";
import { useDraft } from "../ui/draft";
import { lengthComplaint, mostWords, TextField } from "../ui/fields";
import { findingWord, when } from "../ui/format";
import { useComplaints } from "../ui/form";
import { Icon } from "../ui/icon";
import { Failed } from "../ui/notice";
import { Panel } from "../ui/screen";
import { say } from "../ui/toast";
import type { Pack, PackFinding } from "./model";

export function Findings({ pack }: { pack: Pack }) {
  return (
    <Panel title="Seen by eye">
      {pack.findings.length === 0 && <p>None.</p>}
      <ul class="items">
        {pack.findings.map((finding) => (
          <li key={finding.entry}>
            <FindingLine code={pack.code} finding={finding} />
          </li>
        ))}
      </ul>
      <a class="button small" href={`/p/${pack.code}/finding`}>
        Add finding
      </a>
    </Panel>
  );
}

function FindingLine({ code, finding: f }: { code: string; finding: PackFinding }) {
  const act = useAction();
  const word = findingWord[f.finding];
  const open = !f.voided && !f.closed && f.finding !== "sound";
  return (
    <>
      <p class={f.voided ? "struck" : ""}>
        <strong>{word}</strong>
        {f.text && `: ${f.text}`}
      </p>
      <p class="small quiet">
        {when(f.at_ms)}
        {f.by && ` · ${f.by}`}
        {f.voided && " · voided"}
        {f.closed && ` · closed: ${f.closed_text}`}
      </p>
      {open && (
        <span class="row">
          <span class="tag">
            <Icon name={f.safety ? "alert" : "info"} />
            {f.safety ? "open, sets the pack aside" : "open"}
          </span>
        </span>
      )}
      {open && <CloseForm code={code} finding={f} />}
      <div class="row">
        {!f.voided && f.closed && f.closed_by && (
          <button type="button" class="link" onClick={() => act.run(() => voidEntry(code, f.closed_by ?? "", "Finding open again"))}>
            Open again<span class="unseen"> finding {word}</span>
          </button>
        )}
        {f.voided && f.voided_by ? (
          <button type="button" class="link" onClick={() => act.run(() => restore(code, f.voided_by ?? ""))}>
            Bring back<span class="unseen"> finding {word}</span>
          </button>
        ) : (
          <button type="button" class="link" onClick={() => act.run(() => voidEntry(code, f.entry, "Finding voided"))}>
            Void as mistaken<span class="unseen"> finding {word}</span>
          </button>
        )}
      </div>
      <Failed what="Not saved" complaint={act.failed.value} />
    </>
  );
}

function CloseForm({ code, finding }: { code: string; finding: PackFinding }) {
  const draft = useDraft<{ text: string }>(`close:${finding.entry}`, { text: "" });
  const act = useAction();
  const { show, field } = useComplaints();
  const name = `close-${finding.entry}`;
  const close = () =>
    act.run(async () => {
      const text = draft.value.value?.text.trim() ?? "";
      const missing = text ? null : { text: "say what was done", hint: "for example: connector replaced" };
      const wrong = missing ?? lengthComplaint(text, mostWords);
      if (show(wrong ? { [name]: wrong } : {})) return;
      const made = await record("finding-closed", code, { entry: finding.entry, text });
      await draft.drop();
      say("Finding closed", () => voidQuietly(code, made.id));
    });
  return (
    <details>
      <summary>Close: it is dealt with</summary>
      <div class="stack">
        <TextField
          {...field(name, draft.value.value?.text ?? "", (text) => draft.change({ text }))}
          label="What was done"
          most={mostWords}
        />
        <button type="button" class="button" onClick={close} aria-disabled={act.busy.value}>
          Close finding
        </button>
        <Failed what="Not saved" complaint={act.failed.value} />
      </div>
    </details>
  );
}

async function voidQuietly(code: string, entry: string): Promise<void> {
  await record("voided", code, { entry, reason: "taken back" });
}
