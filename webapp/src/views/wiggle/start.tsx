// Before the first place: the set-up, the cautions, and whether the pack may be
// put on a load at all.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { call } from "../../core/bridge";
import { useAction } from "../../ui/action";
import { useAnswer } from "../../ui/answer";
import { AskInitials } from "../../ui/askinitials";
import { Facts, type Fact } from "../../ui/facts";
import { plain, quantity } from "../../ui/format";
import { readNumbers, useComplaints } from "../../ui/form";
import { NumberField } from "../../ui/numberfield";
import { complaintOf, Failed, Warnings } from "../../ui/notice";
import { cautionsStep, confirmedToday } from "../cautions";
import type { SetupCheck } from "../model";
import { Refusals } from "../refusals";
import { Fold, Working } from "../result";
import { Unsafe } from "../unsafe";
import { planOf, type Plan } from "./draft";
import { Frame, type StepProps } from "./frame";

export function Check(p: StepProps) {
  const { answer: plan, complaint } = usePlan(p);
  const act = useAction();
  const unsafe = p.pack.decision.safety;
  const go = () =>
    act.run(async () => {
      if (!plan?.check.ok) return;
      const { load, meter } = p.team;
      const { pause_s, longest_s } = plan.check;
      const step = (await confirmedToday()) ? "open" : "cautions";
      p.change({ step, used: { load, meter }, moveS: plan.moveS, pauseS: pause_s, longestS: longest_s });
    });
  return (
    <Frame
      {...p}
      title="Wiggle test"
      dock={
        unsafe.length > 0 ? (
          <a class="button main" href={`/p/${p.pack.code}`}>
            Back to the pack
          </a>
        ) : plan && !plan.check.ok ? (
          <a class="button main" href="/setup/team">
            Change set-up
          </a>
        ) : (
          <button type="button" class="button main" onClick={go} aria-disabled={!plan}>
            Yes, go on
          </button>
        )
      }
    >
      <Unsafe findings={unsafe} />
      <p>
        With the load on, you move the lead place by place and note the lowest and the highest voltage. A place where it jumps is a bad
        contact. It is easier in two: one moves, one watches the meter.
      </p>
      <AskInitials />
      {plan && <PlanSummary plan={plan} p={p} />}
      <Failed what="The set-up cannot be checked" complaint={complaint ?? act.failed.value} />
    </Frame>
  );
}

function PlanSummary({ plan: { check, moveS }, p }: { plan: Plan; p: StepProps }) {
  const { load, meter } = p.team;
  const facts: Fact[] = [
    ["Load", `${load.name || "Resistor"}, ${plain(load.ohm)} Ω`],
    ["Last digit of the meter", `${plain(meter.resolution_v)} V`],
    ["Current on load", quantity(check.current_a, "A")],
    ["Heat in the resistor", quantity(check.power_w, "W")],
    ["Load on, at each place", `${moveS} s`],
    ["Rest between", `${plain(check.pause_s)} s`],
  ];
  return (
    <>
      <Refusals list={check.refusals} />
      <Facts panel list={facts} />
      <Warnings list={check.warnings.filter(({ code }) => aboutSafety.includes(code))} />
      <p>
        Another meter or resistor today? <a href="/setup/team">Change set-up</a>
      </p>
      <Fold title="Working of the set-up check">
        <Working steps={check.working} />
      </Fold>
    </>
  );
}

/** The others are about a resistance, which is not measured here. */
const aboutSafety = ["fuse-unknown", "rating-unknown", "no-heat-sink", "hot-load"];

function usePlan({ team, pack }: StepProps) {
  return useAnswer(() => planOf(team, pack), [JSON.stringify([team.load, team.meter, team.limits, pack.fuse_a])]);
}

export function Cautions(p: StepProps) {
  const gently = "Bend gently, never pull. Hold leads by their insulation and plugs by their housing.";
  return <Frame {...p} {...cautionsStep(() => p.change({ step: "open" }), gently)} />;
}

/** With the real voltage: may this pack be put on this load, and for how long? */
export function Open(p: StepProps) {
  const { show, field } = useComplaints();
  const refused = useSignal<SetupCheck | null>(null);
  const input = useRef<HTMLInputElement>(null);
  useEffect(() => input.current?.focus(), []);
  const next = async () => {
    const spec = { open_v: { quantity: "voltage" as const, needed: "type the voltage that the meter shows" } };
    const read = await readNumbers(spec, { open_v: p.draft.openText });
    if (show(read.complaints)) return;
    await call("open-check", { pack: p.pack.code, open_v: read.numbers.open_v ?? 0 });
    const { check, moveS } = await planOf(p.team, p.pack, read.numbers.open_v);
    refused.value = check.ok ? null : check;
    if (check.ok) p.change({ step: "ready", moveS, pauseS: check.pause_s, longestS: check.longest_s });
  };
  const send = (event: Event) => {
    event.preventDefault();
    void next().catch((error) => show({ open_v: complaintOf(error) }));
  };
  return (
    <Frame
      {...p}
      title="Open-circuit voltage"
      dock={
        <button type="submit" form="open" class="button main">
          Next: the first place
        </button>
      }
    >
      <p>
        Load off. Clip the meter's probes where the load will join the connector, and leave them there for the whole test: so the meter sees
        the whole lead.
      </p>
      <form id="open" onSubmit={send} class="stack">
        <NumberField
          {...field("open_v", p.draft.openText, (openText) => {
            refused.value = null;
            p.change({ openText });
          })}
          label="Meter shows, load off"
          quantity="voltage"
          big
          last
          inputRef={input}
        />
      </form>
      <Refusals list={refused.value?.refusals ?? []} words="Do not connect the load." />
    </Frame>
  );
}
