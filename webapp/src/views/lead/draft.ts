// A lead as it is typed, and as the core takes it.
import { call } from "../../core/bridge";
import { readNumbers, type Complaints } from "../../ui/form";
import { plain } from "../../ui/format";
import { complaintOf } from "../../ui/notice";
import type { LeadBody, Pack, PartKind, Team } from "../model";

export interface WireTexts {
  name: string;
  size: string;
  length: string;
  back: boolean; // the current goes out and back through such a wire
}

export interface JointTexts {
  kind: PartKind;
  count: string;
  fuse: string; // rating
  ohm: string; // measured; empty: the usual value
}

export interface LeadDraft {
  wires: WireTexts[];
  joints: JointTexts[];
  peak: string;
  copper: string; // °C; empty: the usual
}

export const kindWord: Record<Exclude<PartKind, "copper">, string> = {
  crimp: "Crimp",
  "blade-fuse": "Blade fuse",
  "fuse-holder": "Fuse holder",
  "leaf-contact": "Flat contact with a spring",
  "bullet-3.5": "Round contact, 3.5 mm",
  "bullet-2": "Round contact, 2 mm",
  "blade-tab-6.3": "Push-on tab, 6.3 mm",
  "small-pin": "Small pin and socket",
  other: "Something else, measured",
};

/** A usual lead, with what the profile says of this one. */
export function usualLead(pack: Pack, team: Team): LeadDraft {
  const number = (value: number) => (value ? plain(value) : "");
  return {
    wires: [{ name: "Lead", size: pack.lead_mm2 ? `${plain(pack.lead_mm2)} mm²` : "", length: number(pack.lead_length_mm), back: true }],
    joints: [
      { ...usualJoint, kind: "blade-fuse", fuse: number(pack.fuse_a) },
      { ...usualJoint, kind: "fuse-holder" },
      { ...usualJoint, kind: "leaf-contact", count: "2" },
      { ...usualJoint, kind: "crimp", count: "4" },
    ],
    peak: number(team.limits.robot.peak_a),
    copper: "",
  };
}

export const usualJoint: JointTexts = { kind: "crimp", count: "1", fuse: "", ohm: "" };

/** The lead as the core takes it, and what is wrong with it by the name of its field. */
export async function readLead(draft: LeadDraft): Promise<{ lead: LeadBody; complaints: Complaints }> {
  const complaints: Complaints = {};
  const read = async (prefix: string, spec: Parameters<typeof readNumbers<string>>[0], texts: Record<string, string>) => {
    const found = await readNumbers(spec, texts);
    for (const [name, complaint] of Object.entries(found.complaints)) complaints[prefix + name] = complaint;
    return found.numbers;
  };
  const wires = await Promise.all(
    draft.wires.map(async (wire, i) => {
      const at = `wires[${i}].`;
      const spec = { length_mm: { quantity: "length" as const, needed: "its length is missing" } };
      const { length_mm = 0 } = await read(at, spec, { length_mm: wire.length });
      const size = await call("read-size", { text: wire.size }).catch((error) => {
        complaints[`${at}size`] = wire.size.trim() ? complaintOf(error) : { text: "its size is missing", hint: "write 16 AWG or 1.5 mm²" };
        return {};
      });
      return { name: wire.name.trim(), size, length_mm, ways: wire.back ? 2 : 1 };
    }),
  );
  const joints = await Promise.all(
    draft.joints.map(async (joint, i) => {
      const fuse = joint.kind === "blade-fuse";
      const spec = {
        count: { quantity: "count" as const, needed: "say how many there are" },
        ohm: { quantity: "resistance" as const, ...(joint.kind === "other" && { needed: "what it measures is missing" }) },
        fuse_a: { quantity: "current" as const, ...(fuse && !joint.ohm.trim() && { needed: "its rating is missing: it is printed on it" }) },
      };
      const n = await read(`joints[${i}].`, spec, { count: joint.count, ohm: joint.ohm, fuse_a: fuse ? joint.fuse : "" });
      return {
        name: "",
        kind: joint.kind,
        count: n.count ?? 1,
        ...(n.fuse_a !== undefined && { fuse_a: n.fuse_a }),
        ...(n.ohm !== undefined && { ohm: n.ohm }),
      };
    }),
  );
  const top = await read(
    "",
    { peak_a: { quantity: "current", needed: "the peak current is missing" }, copper_c: { quantity: "temperature" } },
    { peak_a: draft.peak, copper_c: draft.copper },
  );
  return { lead: { wires, joints, peak_a: top.peak_a ?? 0, ...(top.copper_c !== undefined && { copper_c: top.copper_c }) }, complaints };
}
