// One test, from its raw readings to its decision.
import { call } from "../core/bridge";
import { revision } from "../data/fleet";
import { restore, useAction, voidEntry } from "../ui/action";
import { useAnswer } from "../ui/answer";
import { Facts, type Fact } from "../ui/facts";
import { chargeWord, methodWord, plain, quantity, when } from "../ui/format";
import { Icon } from "../ui/icon";
import { Failed, Notice, sentence } from "../ui/notice";
import { Screen } from "../ui/screen";
import type { PackTest } from "./model";
import { NoPack } from "./nopack";
import { usePack } from "./packdata";
import { Fold, ResultView } from "./result";

export function TestDetail({ code, entry }: { code: string; entry: string }) {
  const { pack } = usePack(code);
  const { answer: test, complaint } = useAnswer(() => call("test", { entry }), [entry, revision.value]); // it may be voided meanwhile
  const act = useAction();
  if (!test) return <NoPack code={code} complaint={complaint} />;
  const name = pack?.name || code;
  return (
    <Screen
      title={`Test of ${name}`}
      back={[`/p/${code}`, name]}
      dock={
        <>
          <a class="button" href={`/p/${code}`}>
            To the pack
          </a>
          <a class="button main" href="/scan">
            <Icon name="scan" />
            Scan next
          </a>
        </>
      }
    >
      <p class="quiet">
        {when(test.at_ms)} · {methodWord[test.method]}
        {test.by && ` · ${test.by}`}
      </p>
      {test.clock_off && <Notice warm>The clock of the device that made this was plainly wrong. The date may be too.</Notice>}
      {test.voided && (
        <Notice warm>
          <strong>Voided: it does not count.</strong>
          {test.voided_with ? (
            <a href="/import">Undone with the table it came from</a> /* its voiding entry voids all the others too */
          ) : (
            <button type="button" class="button small" onClick={() => act.run(() => restore(code, test.voided_by ?? ""))}>
              Bring back
            </button>
          )}
        </Notice>
      )}
      {test.result ? (
        <ResultView result={test.result} decision={test.decision} alone={test.voided ? undefined : test.alone} />
      ) : (
        <Notice warm>
          <strong>No result: {sentence(test.problem ?? "it cannot be computed")}</strong>
        </Notice>
      )}
      <Raw test={test} />
      {!test.voided && (
        <button type="button" class="button" onClick={() => act.run(() => voidEntry(code, test.entry, "Test voided"))}>
          Void this test as mistaken
        </button>
      )}
      <Failed what="Not saved" complaint={act.failed.value} />
    </Screen>
  );
}

function Raw({ test }: { test: PackTest }) {
  const lines = test.test ? loadTestLines(test.test) : test.direct ? directLines(test.direct) : [];
  return (
    <Fold title="As it was read">
      <Facts list={lines} />
      <p class="small quiet id">{test.entry}</p>
    </Fold>
  );
}

function list(values: number[] | undefined, unit: string): string {
  return values?.length ? `${values.map(plain).join(", ")} ${unit}` : "";
}

function one(value: number | null | undefined, unit: string): string {
  return value == null ? "" : `${plain(value)} ${unit}`;
}

function loadTestLines(t: NonNullable<PackTest["test"]>): Fact[] {
  const load = [
    one(t.load_ohm || null, "Ω"),
    t.load_tolerance_pct != null && `± ${plain(t.load_tolerance_pct)} %`,
    t.load_uncertainty_ohm != null && `u = ${plain(t.load_uncertainty_ohm)} Ω`,
    t.load_tempco_ppm_k != null && t.load_rise_k != null && `± ${plain(t.load_tempco_ppm_k)} ppm/K over ${quantity(t.load_rise_k, "K", 2)}`,
  ];
  return filled([
    ["Open circuit", list(t.open_v, "V")],
    ["On load", list(t.loaded_v, "V")],
    ["Current", list(t.current_a, "A")],
    ["Load", load.filter(Boolean).join(", ")],
    ["Leads of the load", one(t.lead_ohm || null, "Ω")],
    ["On the first load", list(t.loaded_1_v, "V")],
    ["First load", one(t.load_1_ohm || null, "Ω")],
    ["On the second load", list(t.loaded_2_v, "V")],
    ["Second load", one(t.load_2_ohm || null, "Ω")],
    ["Meter", `± (${plain(t.meter.reading_pct)} % + ${plain(t.meter.counts)} counts of ${plain(t.meter.resolution_v)} V)`],
    ["Read after", one(t.read_after_s, "s")],
    ...circumstances(t),
  ]);
}

function directLines(d: NonNullable<PackTest["direct"]>): Fact[] {
  return filled([
    ["Resistance", list(d.resistance_ohm, "Ω")],
    ["Instrument", `± (${plain(d.accuracy_pct)} % + ${plain(d.counts)} counts of ${plain(d.resolution_ohm)} Ω)`],
    ["Frequency", one(d.frequency_hz, "Hz")],
    ["Open circuit", one(d.open_v, "V")],
    ...circumstances(d),
  ]);
}

function circumstances(t: Pick<NonNullable<PackTest["test"]>, "charge" | "rested_min" | "temperature_c" | "note">): Fact[] {
  return [
    ["Charge", t.charge ? chargeWord[t.charge] : ""],
    ["Rested", one(t.rested_min, "min")],
    ["Temperature", one(t.temperature_c, "°C")],
    ["Note", t.note ?? ""],
  ];
}

function filled(lines: Fact[]): Fact[] {
  return lines.filter(([, value]) => value !== "");
}
