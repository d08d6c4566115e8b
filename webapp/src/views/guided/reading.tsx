// Steps 4 and 6: type what the meter showed.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { call } from "../../core/bridge";
import { readNumbers, useComplaints } from "../../ui/form";
import { NumberField } from "../../ui/numberfield";
import { complaintOf, Notice, sentence, Warnings } from "../../ui/notice";
import type { SetupCheck } from "../model";
import { bodyOf } from "./draft";
import { Rest } from "./rest";
import { setupOf } from "./setupstep";
import { StepFrame, type StepProps } from "./step";

export function ReadingStep(p: StepProps) {
  const open = p.draft.step === "open";
  const name = open ? "open_v" : "loaded_v";
  const text = open ? p.draft.openText : p.draft.loadedText;
  const { show, field } = useComplaints();
  const refused = useSignal<SetupCheck | null>(null);
  const input = useRef<HTMLInputElement>(null);
  useEffect(() => input.current?.focus(), []);
  const number = p.draft.open.length + 1;
  const next = async () => {
    const read = await readNumbers({ [name]: { quantity: "voltage", needed: "type the voltage that the meter shows" } }, { [name]: text });
    if (show(read.complaints)) return;
    if (open) await connect(read.numbers[name] ?? 0);
    else await keep();
  };
  /** With the real voltage: may this pack be put on this load? */
  const connect = async (volts: number) => {
    await call("open-check", { pack: p.pack.code, open_v: volts });
    const check = await call("setup-check", setupOf(p.team, p.pack, volts));
    refused.value = check.ok ? null : check;
    if (check.ok) p.change({ step: "connect" });
  };
  /** Keeps the pair if a result can come of it; else what is wrong is said while it can be mended. */
  const keep = async () => {
    const done = { ...p.draft, open: [...p.draft.open, p.draft.openText], loaded: [...p.draft.loaded, text], openText: "", loadedText: "" };
    const { body } = await bodyOf(done, p.team);
    await call("assess", { kind: "load-test", pack: p.pack.code, body });
    p.change({ ...done, step: "between" });
  };
  const send = (event: Event) => {
    event.preventDefault();
    void next().catch((error) => show({ [name]: complaintOf(error) }));
  };
  return (
    <StepFrame
      {...p}
      title={open ? "Open-circuit voltage" : "Voltage on load"}
      dock={
        <button type="submit" form="reading" class="button main">
          {open ? "Next: connect the load" : "Keep this reading"}
        </button>
      }
    >
      <p>
        Reading {number} of {Math.max(p.team.repeats, number)}.{" "}
        {open
          ? "Load off. Probes on the pack's terminals; wait until the display stands still."
          : "What the meter showed at the signal, before you took the load off."}
      </p>
      {open && <Rest {...p} small />}
      <form id="reading" onSubmit={send} class="stack">
        <NumberField
          {...field(name, text, (typed) => {
            refused.value = null;
            p.change(open ? { openText: typed } : { loadedText: typed });
          })}
          label={open ? "Meter shows, load off" : "Meter showed, load on"}
          quantity="voltage"
          big
          last
          inputRef={input}
        />
      </form>
      {refused.value && (
        <>
          <Notice warm live="alert">
            <strong>{sentence("do not connect the load")}</strong>
          </Notice>
          <Warnings list={refused.value.refusals} />
          {number === 1 && (
            <button type="button" class="button" onClick={() => p.change({ step: "check" })}>
              Back to the set-up check
            </button>
          )}
        </>
      )}
      {!open && p.draft.missed === false && (
        <button
          type="button"
          class="button"
          onClick={() => p.change({ step: "connect", loadedText: "", connectedAt: null })}
        >
          I missed it: do this one again
        </button>
      )}
    </StepFrame>
  );
}
