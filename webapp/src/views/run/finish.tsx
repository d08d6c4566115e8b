// The end of a capacity check: the result, saved by one press.
import { call } from "../../core/bridge";
import { record } from "../../data/journal";
import { go } from "../../router";
import { useAction } from "../../ui/action";
import { useAnswer } from "../../ui/answer";
import { lengthComplaint, mostNote, TextField } from "../../ui/fields";
import { Failed, Notice } from "../../ui/notice";
import { Screen } from "../../ui/screen";
import { say } from "../../ui/toast";
import { bodyOf } from "./draft";
import { RunResultView } from "./runresult";
import type { StepProps } from "./step";

export function Finish(p: StepProps) {
  const body = bodyOf(p.draft);
  const { answer: result, complaint } = useAnswer(
    () => call("run-check", { pack: p.pack.code, body }),
    [JSON.stringify([p.draft.readings, p.draft.full])],
  );
  const save = useAction();
  const note = p.draft.texts.note ?? "";
  const keep = () =>
    save.run(async () => {
      if (lengthComplaint(note, mostNote)) return; // said beside the field
      const entry = await record("run", p.pack.code, body);
      await p.drop();
      say("Run saved on this device");
      go(`/p/${p.pack.code}/run/${entry.id}`, true);
    });
  const discard = async () => {
    const before = p.draft;
    await p.drop();
    say("Thrown away", async () => p.change(before));
  };
  return (
    <Screen
      title="Result"
      back={[`/p/${p.pack.code}`, p.pack.name || p.pack.code]}
      dock={
        <>
          <button type="button" class="button" onClick={() => p.change({ step: "log", offAt: null })}>
            Back to the log
          </button>
          <button type="button" class="button main" onClick={keep} aria-disabled={save.busy.value || !result}>
            Save run
          </button>
        </>
      }
    >
      <Notice>
        <strong>Is the load off?</strong>
        <p>It stays hot for a while. Let the pack rest, then charge it: an empty pack does not keep well.</p>
      </Notice>
      <Failed show what="Not saved" complaint={save.failed.value} />
      <Failed what="No result" complaint={complaint} />
      {result && <RunResultView result={result} purpose="capacity" options={body.options} byHand />}
      <TextField
        name="note"
        label="Note"
        text={note}
        most={mostNote}
        onText={(text) => p.change({ texts: { ...p.draft.texts, note: text } })}
      />
      <button type="button" class="button" onClick={discard}>
        Throw this run away
      </button>
    </Screen>
  );
}
