// Before a capacity check: may this load be on for hours, and how long will it take?
import { useSignal } from "@preact/signals";
import { call } from "../../core/bridge";
import type { RunPlan } from "../../core/types";
import { useAnswer } from "../../ui/answer";
import { AskInitials } from "../../ui/askinitials";
import { Facts, type Fact } from "../../ui/facts";
import { Check, Choice } from "../../ui/fields";
import { plain, quantity } from "../../ui/format";
import { readNumbers, useComplaints, type Complaints } from "../../ui/form";
import { NumberField } from "../../ui/numberfield";
import { complaintOf, Failed, Notice, Warnings, type Complaint } from "../../ui/notice";
import { Screen } from "../../ui/screen";
import { Refusals } from "../refusals";
import { Unsafe } from "../unsafe";
import { loadOf, setupNumbers, setupTexts, type RunDraft, type Used } from "./draft";
import type { StepProps } from "./step";
import { duration } from "./words";

/** More readings than this say nothing more, and a run of them is too long for an entry. */
const leastMinutes = 1;
const mostMinutes = 60;

/** What is set up, with the core's word on it. */
async function planOf({ pack, team, draft }: StepProps): Promise<{ used: Used | null; complaints: Complaints }> {
  const { numbers, complaints } = await readNumbers(setupNumbers, setupTexts(team.load, draft.texts));
  const every = numbers.every_min;
  if (every !== undefined && !(every >= leastMinutes && every <= mostMinutes)) {
    complaints.every_min = { text: `every ${plain(every)} min is no plan for this`, hint: `choose ${leastMinutes} to ${mostMinutes} minutes; 5 is usual` };
  }
  if (Object.keys(complaints).length > 0 || every === undefined) return { used: null, complaints };
  const load = loadOf(team.load, draft.sink, numbers);
  const plan = await call("run-plan", { pack: pack.code, load, stop_v: numbers.stop_v ?? 0 });
  return { used: { load, plan, every_min: every, ...(numbers.pack_c !== undefined && { pack_c: numbers.pack_c }) }, complaints };
}

export function Setup(p: StepProps) {
  const form = useComplaints();
  const key = JSON.stringify([p.draft.texts, p.draft.sink, p.team.load, p.team.meter]);
  const { answer, complaint } = useAnswer(() => planOf(p), [key]);
  const plan = answer?.used?.plan ?? null; // null too while something is missing
  const failed = useSignal<Complaint | null>(null);
  const texts = setupTexts(p.team.load, p.draft.texts);
  const unsafe = p.pack.decision.safety;
  const field = (name: keyof typeof setupNumbers) => ({
    ...form.field(name, texts[name] ?? "", (text) => p.change({ texts: { ...p.draft.texts, [name]: text } })),
    quantity: setupNumbers[name].quantity,
  });
  const useTeams = () => {
    const { ohm: _ohm, tolerance_pct: _tolerance, rating_w: _rating, ...others } = p.draft.texts;
    p.change({ texts: others });
  };
  const next = async () => {
    failed.value = null;
    try {
      const found = await planOf(p);
      const silent = p.draft.full === "" && { text: "say whether the pack is full", hint: "only a run from full tells the capacity" };
      if (form.show({ ...found.complaints, ...(silent && { full: silent }) }) || !found.used || found.used.plan.refusals.length > 0) return;
      p.change({ step: "cautions", used: found.used });
    } catch (error) {
      const about = complaintOf(error);
      if (!form.place(about)) failed.value = about;
    }
  };
  return (
    <Screen
      title="Capacity check with a resistor"
      back={[`/p/${p.pack.code}`, p.pack.name || p.pack.code]}
      dock={
        <>
          <button type="button" class="button" onClick={() => p.change({ step: "choose" })}>
            Back
          </button>
          {unsafe.length === 0 && (
            <button type="button" class="button main" onClick={next} aria-disabled={(plan?.refusals.length ?? 0) > 0}>
              Yes, go on
            </button>
          )}
        </>
      }
    >
      {p.restored}
      <Unsafe findings={unsafe} />
      <AskInitials />
      <p>
        A full pack runs through the resistor down to the stop voltage. You read the meter every few minutes; the app reminds you and adds
        up the charge.
      </p>
      {p.draft.suggestedOhm !== undefined && Number(texts.ohm) === p.draft.suggestedOhm && (
        <Notice>
          <strong>{plain(p.draft.suggestedOhm)} Ω is put in, not the team's {plain(p.team.load.ohm)} Ω.</strong>
          <p>It takes a fifth of the capacity per hour, as data sheets have it. Enter tolerance and rated power of the part you use.</p>
          <button type="button" class="button small" onClick={useTeams}>
            Use the team's load
          </button>
        </Notice>
      )}
      <Plan plan={plan} pack={p.pack} />
      <Failed show what="It cannot be checked" complaint={failed.value ?? complaint} />
      <div class="panel">
        <h2>Load and stop</h2>
        <div class="fields">
          <NumberField {...field("ohm")} label="Load" />
          <NumberField {...field("tolerance_pct")} label="Tolerance ±" help="In %, as printed on it" />
          <NumberField {...field("rating_w")} label="Rated power" help="In W, on its heat sink" />
          <NumberField {...field("stop_v")} label="Stop at" help="On load; empty: 1.0 V per cell" />
          <NumberField {...field("every_min")} label="Read every" help="In minutes" />
        </div>
        <Check
          label="The load sits on a heat sink"
          checked={p.draft.sink === "" ? p.team.load.on_heat_sink : p.draft.sink === "yes"}
          onChange={(on) => p.change({ sink: on ? "yes" : "no" })}
        />
      </div>
      <Choice
        legend="The pack is"
        name="full"
        options={[
          ["yes", "Fully charged, rested"],
          ["no", "Not full"],
          ["unknown", "Not known"],
        ]}
        value={p.draft.full}
        complaint={form.complaints.value.full}
        onChoose={(full: RunDraft["full"]) => {
          form.clear("full");
          p.change({ full });
        }}
      />
      {p.draft.full !== "yes" && p.draft.full !== "" && (
        <Notice>This run will not count as the pack's capacity: only one from full does. Charge first, and let the pack rest an hour.</Notice>
      )}
      <NumberField {...field("pack_c")} label="Temperature of the pack" help="In °C, at the start; 15 to 25 compares best" signed />
    </Screen>
  );
}

function Plan({ plan, pack }: { plan: RunPlan | null; pack: StepProps["pack"] }) {
  if (!plan) return null;
  const facts: Fact[] = [
    ["Current at the start", quantity(plan.current_a, "A")],
    ["Heat in the resistor", quantity(plan.power_w, "W")],
    ["Time until the stop", plan.duration_s === null ? "not known: the rated capacity is missing" : `about ${duration(plan.duration_s)}`],
    ["Stop voltage", `${plain(plan.stop_v)} V on load`],
    ["Fuse in the lead", pack.fuse_a ? `${plain(pack.fuse_a)} A` : "not known"],
  ];
  return (
    <>
      <Refusals list={plan.refusals} />
      <Facts panel list={facts} />
      <Warnings list={plan.warnings} />
    </>
  );
}
