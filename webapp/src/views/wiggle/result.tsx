// What the places say, saved by one press.
import { call } from "../../core/bridge";
import { record } from "../../data/journal";
import { go } from "../../router";
import { useAction } from "../../ui/action";
import { useAnswer } from "../../ui/answer";
import { lengthComplaint, mostNote, TextField } from "../../ui/fields";
import { echo, minus, quantity, volts } from "../../ui/format";
import { useComplaints } from "../../ui/form";
import { Icon } from "../../ui/icon";
import { Failed, Notice, sentence } from "../../ui/notice";
import { say } from "../../ui/toast";
import type { WiggleBody } from "../../core/types";
import type { WiggleResult } from "../model";
import { Fold, Working } from "../result";
import { bodyOf } from "./draft";
import { Frame, type StepProps } from "./frame";
import { places, placeWord } from "./places";

export function Result(p: StepProps) {
  const { answer: result, complaint } = useAnswer(async () => {
    const body = await bodyOf({ ...p.draft, note: "" }, p.team);
    return { ...(await call("wiggle-check", { pack: p.pack.code, body })), read: body.spots };
  }, [JSON.stringify([p.draft.spots, p.team.load, p.team.meter])]);
  const { complaints, show } = useComplaints();
  const save = useAction();
  const suspect = result?.spots.some((spot) => spot.suspect);
  const keep = () =>
    save.run(async () => {
      const note = lengthComplaint(p.draft.note, mostNote);
      if (show(note ? { note } : {})) return;
      await record("wiggle", p.pack.code, await bodyOf(p.draft, p.team));
      await p.drop();
      say("Wiggle test saved on this device");
      go(`/p/${p.pack.code}/health`, true);
    });
  return (
    <Frame
      {...p}
      title="Result of the wiggle test"
      dock={
        <button type="button" class="button main" onClick={keep} aria-disabled={save.busy.value || !result}>
          Save wiggle test
        </button>
      }
    >
      <Failed show what="Not saved" complaint={save.failed.value} />
      <Failed what="No result" complaint={complaint} />
      {result && (
        <>
          <section class="readout" aria-label="Result">
            <p class="trend-words">
              <strong>{sentence(result.text)}</strong>
            </p>
          </section>
          {result.cautions.length > 0 && (
            <Notice warm>
              {result.cautions.map((line) => (
                <p key={line}>{sentence(line)}</p>
              ))}
            </Notice>
          )}
          {suspect && (
            <p>
              Save this first. Once it is mended, <a href={`/p/${p.pack.code}/repair`}>record the repair</a> and test again.
            </p>
          )}
        </>
      )}
      <Spots p={p} result={result} />
      <TextField
        name="note"
        label="Note"
        text={p.draft.note}
        most={mostNote}
        complaint={complaints.value.note}
        onText={(note) => p.change({ note })}
      />
      {result && result.working.length > 0 && (
        <Fold title="Working">
          <Working steps={result.working} />
        </Fold>
      )}
    </Frame>
  );
}

function Spots({ p, result }: { p: StepProps; result: (WiggleResult & { read: WiggleBody["spots"] }) | null }) {
  const again = (at: number) => p.change({ step: "ready", at, again: true, low: "", high: "" });
  return (
    <section class="panel" aria-label="Place by place">
      <h2>Place by place</h2>
      <ul class="items">
        {places.map((place, at) => {
          const spot = p.draft.spots.find((found) => found.place === place);
          const read = result?.read.find((each) => each.place === place);
          const found = result?.spots.find((each) => each.place === place);
          return (
            <li key={place}>
              <p>
                <strong>{placeWord[place].name}</strong>
                {spot ? `: ${read ? `${echo(spot.low, read.low_v, volts(read.low_v))} to ${echo(spot.high, read.high_v, volts(read.high_v))}` : ""}` : ": skipped"}{" "}
                {found?.suspect && (
                  <span class="tag">
                    <Icon name="alert" />
                    suspect
                  </span>
                )}
              </p>
              {found && place !== "still" && (
                <p class="small quiet">
                  {minus((1000 * found.change_v).toFixed(0))} mV ± {(1000 * found.plus_v).toFixed(0)} mV beyond the still lead
                  {found.ohm !== null && `, about ${quantity(1000 * found.ohm, "mΩ", 2)}`}
                </p>
              )}
              <div>
                <button type="button" class="link" onClick={() => again(at)}>
                  {spot ? "Do again" : "Do this one"}
                  <span class="unseen"> {placeWord[place].name}</span>
                </button>
              </div>
            </li>
          );
        })}
      </ul>
    </section>
  );
}
