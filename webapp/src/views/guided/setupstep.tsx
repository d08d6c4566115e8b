// Step 1: is this set-up safe, and can it tell anything?
import { call } from "../../core/bridge";
import { useAnswer } from "../../ui/answer";
import { AskInitials } from "../../ui/askinitials";
import type { Fact } from "../../ui/facts";
import { plain } from "../../ui/format";
import { Failed, Notice, type Complaint } from "../../ui/notice";
import { confirmedToday } from "../cautions";
import type { Pack, Setup, SetupCheck, Team } from "../model";
import { SetupSummary } from "../setupsummary";
import { Unsafe } from "../unsafe";
import { UsualValues } from "../usualvalues";
import { usedNow } from "./draft";
import { StepFrame, type StepProps } from "./step";

export function setupOf(team: Team, pack: Pick<Pack, "fuse_a"> | null, open?: number): Setup {
  return {
    meter: team.meter,
    load: team.load,
    fuse_a: pack?.fuse_a ?? 0,
    open_v: open ?? team.limits.robot.rest_v,
    limit_ohm: team.limits.competition_ohm,
    repeats: team.repeats,
    read_after_s: team.read_after_s,
  };
}

/** The core's word on a set-up; both null while it computes. */
export function useSetupCheck(setup: Setup | null): { check: SetupCheck | null; complaint: Complaint | null } {
  const { answer: check, complaint } = useAnswer(() => setup && call("setup-check", setup), [JSON.stringify(setup)]);
  return { check, complaint };
}

export function SetupStep(p: StepProps) {
  const { check, complaint } = useSetupCheck(setupOf(p.team, p.pack));
  const unsafe = p.pack.safety;
  const go = async () => {
    if (!check?.ok) return;
    p.change({ step: (await confirmedToday()) ? "circumstances" : "cautions", used: usedNow(p.team, check) });
  };
  const { load, meter } = p.team;
  const facts: Fact[] = [
    ["Load", `${load.name || "Resistor"}, ${plain(load.ohm)} Ω`],
    ["Last digit of the meter", `${plain(meter.resolution_v)} V`],
    ["Read after", `${plain(p.team.read_after_s)} s on load`],
    ["Readings", String(p.team.repeats)],
    ["Fuse in the lead", p.pack.fuse_a ? `${plain(p.pack.fuse_a)} A` : "not known"],
  ];
  return (
    <StepFrame
      {...p}
      title="Is this what you have?"
      dock={
        unsafe.length > 0 ? (
          <a class="button main" href={`/p/${p.pack.code}`}>
            Back to the pack
          </a>
        ) : check && !check.ok ? (
          <a class="button main" href="/setup/team">
            Change set-up
          </a>
        ) : (
          <button type="button" class="button main" onClick={go} aria-disabled={!check}>
            Yes, go on
          </button>
        )
      }
    >
      <Unsafe findings={unsafe} />
      {p.pack.unknown && (
        <Notice>
          <strong>This browser does not know pack {p.pack.code}.</strong>
          <p>The result is worked out without its profile, and kept. It joins the pack when both are on the server. Ask whether the pack is set aside.</p>
        </Notice>
      )}
      <UsualValues />
      <AskInitials />
      {check && <SetupSummary check={check} facts={facts} />}
      <Failed what="The set-up cannot be checked" complaint={complaint} />
      <p>
        Another meter or resistor today? <a href="/setup/team">Change set-up</a>, or use the{" "}
        <a href={`/p/${p.pack.code}/quick`}>quick form</a>.
      </p>
    </StepFrame>
  );
}
