// Free words on a pack, or on the whole fleet.
import { record } from "../data/journal";
import { restore, useAction, voidEntry } from "../ui/action";
import { useDraft } from "../ui/draft";
import { lengthComplaint, mostNote, TextField } from "../ui/fields";
import { when } from "../ui/format";
import { useComplaints } from "../ui/form";
import { Failed } from "../ui/notice";
import { Panel } from "../ui/screen";
import { say } from "../ui/toast";
import type { Remark } from "./model";

/** Notes on one pack, or on the fleet where code is empty. */
export function Notes({ code, notes }: { code: string; notes: Remark[] }) {
  const draft = useDraft<{ text: string }>(`note:${code}`, { text: "" });
  const act = useAction();
  const { show, field } = useComplaints();
  const add = () =>
    act.run(async () => {
      const text = draft.value.value?.text.trim() ?? "";
      const missing = text ? null : { text: "there is nothing to save yet", hint: "write the note first" };
      const note = missing ?? lengthComplaint(text, mostNote);
      if (show(note ? { note } : {})) return;
      await record("note", code, { text });
      await draft.drop();
      say("Note saved");
    });
  return (
    <Panel title={code ? "Notes" : "Notes on the fleet"}>
      <ul class="items">
        {notes.map((note) => (
          <li key={note.entry}>
            <NoteLine code={code} note={note} />
          </li>
        ))}
      </ul>
      <TextField
        {...field("note", draft.value.value?.text ?? "", (text) => draft.change({ text }))}
        label="New note"
        lines
        most={mostNote}
      />
      <button type="button" class="button small" onClick={add} aria-disabled={act.busy.value}>
        Save note
      </button>
      <Failed what="Not saved" complaint={act.failed.value} />
    </Panel>
  );
}

function NoteLine({ code, note }: { code: string; note: Remark }) {
  const act = useAction();
  const about = `note of ${when(note.at_ms)}`;
  return (
    <>
      <p class={note.voided ? "struck" : ""}>{note.text}</p>
      <div class="row spread">
        <span class="small quiet">
          {when(note.at_ms)}
          {note.by && ` · ${note.by}`}
          {note.voided && " · voided"}
        </span>
        {note.voided && note.voided_by ? (
          <button type="button" class="link" onClick={() => act.run(() => restore(code, note.voided_by ?? ""))}>
            Bring back<span class="unseen"> {about}</span>
          </button>
        ) : (
          <button type="button" class="link" onClick={() => act.run(() => voidEntry(code, note.entry, "Note voided"))}>
            Void<span class="unseen"> as mistaken {about}</span>
          </button>
        )}
      </div>
      <Failed what="Not saved" complaint={act.failed.value} />
    </>
  );
}
