// The readings of a running log: each can be taken out, and one that was written
// down meanwhile put in.
import { useSignal } from "@preact/signals";
import { TextField } from "../../ui/fields";
import { count } from "../../ui/format";
import { readNumbers, useComplaints } from "../../ui/form";
import { NumberField } from "../../ui/numberfield";
import { complaintOf } from "../../ui/notice";
import { Fold } from "../result";
import type { Reading } from "./draft";
import { clockOf, inOrder, needed, oddness } from "./sofar";
import type { StepProps } from "./step";

/** All readings, newest first. */
export function Readings(p: StepProps) {
  const { readings } = p.draft;
  const without = (reading: Reading) => p.change({ readings: readings.filter((r) => r !== reading) });
  return (
    <Fold title={`${count(readings.length, "reading")} so far`}>
      <div class="stack">
        {readings.length > 0 && (
          <table>
            <thead>
              <tr>
                <th scope="col">Read at</th>
                <th scope="col" class="num">
                  On load
                </th>
                <td />
              </tr>
            </thead>
            <tbody>
              {[...readings].reverse().map((reading) => (
                <tr key={reading.at}>
                  <th scope="row">{clockOf(reading.at)}</th>
                  <td class="num">{reading.text} V</td>
                  <td class="num">
                    <button type="button" class="link" onClick={() => without(reading)}>
                      Take out<span class="unseen"> the reading of {clockOf(reading.at)}</span>
                    </button>
                  </td>
                </tr>
              ))}
            </tbody>
          </table>
        )}
        <WrittenDown {...p} />
      </div>
    </Fold>
  );
}

function WrittenDown(p: StepProps) {
  const at = useSignal("");
  const text = useSignal("");
  const { show, field } = useComplaints();
  const { startedAt, readings } = p.draft;
  const add = async () => {
    const read = await readNumbers({ paper_v: { quantity: "voltage", needed } }, { paper_v: text.value });
    const ms = Date.parse(at.value);
    if (!(ms >= (startedAt ?? 0) - 60_000 && ms <= Date.now())) {
      read.complaints.paper_at = { text: "that is not a time of this run", hint: "between the start and now" };
    }
    if (show(read.complaints)) return;
    const reading = { at: Math.max(ms, startedAt ?? ms), text: text.value.trim(), volts: read.numbers.paper_v ?? 0 };
    const odd = await oddness(p, reading);
    if (odd) return void show({ paper_v: odd });
    p.change({ readings: inOrder([...readings, reading]) });
    [at.value, text.value] = ["", ""];
  };
  return (
    <div class="stack">
      <p>Written down on paper meanwhile? Put it in with its own time.</p>
      <div class="fields">
        <TextField {...field("paper_at", at.value, (typed) => (at.value = typed))} label="Read at" type="datetime-local" />
        <NumberField {...field("paper_v", text.value, (typed) => (text.value = typed))} label="On load" quantity="voltage" />
      </div>
      <button type="button" class="button small" onClick={() => void add().catch((error) => show({ paper_v: complaintOf(error) }))}>
        Put in
      </button>
    </div>
  );
}
