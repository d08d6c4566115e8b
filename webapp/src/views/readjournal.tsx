// A journal that was saved as a file, read in by a lead: of a phone that cannot
// join, of one that was taken off the list, of a laptop that is gone.
import { useSignal } from "@preact/signals";
import { useRef } from "preact/hooks";
import { mayLead } from "../data/rights";
import { readJournal, type JournalRead } from "../data/journalfile";
import { ready } from "../data/status";
import { useAction } from "../ui/action";
import { count } from "../ui/format";
import { Failed, Notice, sentence } from "../ui/notice";
import { Panel, Screen } from "../ui/screen";
import { Unopened } from "../ui/unopened";

export function ReadJournal() {
  const input = useRef<HTMLInputElement>(null);
  const share = useSignal(0); // of the file, while it is read
  const read = useSignal<JournalRead | null>(null);
  const act = useAction();
  const take = () =>
    act.run(async () => {
      const file = input.current?.files?.[0];
      if (!file) return;
      read.value = null;
      share.value = 0;
      try {
        read.value = await readJournal(file, (bytes) => (share.value = bytes / file.size));
      } finally {
        if (input.current) input.current.value = ""; // the same file may be chosen again
      }
    });
  const may = mayLead() && ready.value === "ready";
  return (
    <Screen
      title="Read a saved journal"
      back={["/setup", "Set-up"]}
      dock={
        may && (
          <button type="button" class="button main" onClick={() => input.current?.click()} aria-disabled={act.busy.value}>
            {act.busy.value ? "Reading …" : "Choose the file"}
          </button>
        )
      }
    >
      <input ref={input} hidden type="file" name="journal" onChange={take} />
      {ready.value !== "ready" ? (
        <Unopened />
      ) : !may ? (
        <Notice>
          <strong>Only a lead reads in a journal.</strong>
          <p>Give the file to one, or use the machine that the server runs on.</p>
        </Notice>
      ) : (
        <>
          <p>
            A file that packwright saved on another device: one entry a line (.jsonl). What is new is kept on this device and sent from here. What is
            here already is left as it is, so reading a file twice does no harm.
          </p>
          <Notice>
            <p>Take files only from your own team's devices: what is read in counts for everybody, and can only be voided, entry by entry.</p>
          </Notice>
        </>
      )}
      {act.busy.value && <progress max={1} value={share.value} aria-label="How much of the file is read" />}
      <Failed show what="Not all of it was read" complaint={act.failed.value} />
      <div role="status" class="stack">{read.value && <Outcome read={read.value} />}</div>
    </Screen>
  );
}

function Outcome({ read }: { read: JournalRead }) {
  return (
    <>
      <p>
        <strong>{read.added > 0 ? `${count(read.added, "new entry", "new entries")} saved on this device.` : "Nothing new."}</strong>{" "}
        {read.known > 0 && `${count(read.known, "was", "were")} here already. `}
        {read.added > 0 && "They go to the server with the next sync; what it refuses stands under Unsent and refused."}
      </p>
      {read.refused > 0 && (
        <Panel title={`${count(read.refused, "line")} not taken`}>
          <ul class="items">
            {read.why.map(({ line, reason, hint }) => (
              <li key={line}>
                <p>
                  Line {line}: <strong>{sentence(reason)}</strong> {hint && sentence(hint)}
                </p>
              </li>
            ))}
          </ul>
          {read.refused > read.why.length && <p>And {count(read.refused - read.why.length, "other")}.</p>}
        </Panel>
      )}
    </>
  );
}
