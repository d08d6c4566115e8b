// Charge, rest and temperature, with one tap for the usual answers.
import { Choice } from "../ui/fields";
import { chargeWord } from "../ui/format";
import type { Complaints } from "../ui/form";
import { NumberField } from "../ui/numberfield";
import type { Charge } from "./model";

interface Values {
  charge: Charge | "";
  rested_min: string;
  temperature_c: string;
}

interface Props {
  restRule?: number; // minute, the team's rule
  values: Values;
  complaints: Complaints;
  doubts?: Complaints; // what speaks against comparing the test with others
  onChange: (part: Partial<Values>) => void;
}

const charges = Object.entries(chargeWord) as [Charge, string][];
const rests: [string, string][] = [
  ["30", "30 min"],
  ["60", "1 h"],
  ["240", "4 h"],
  ["720", "overnight"],
];
const temperatures: [string, string][] = [
  ["15", "15 °C"],
  ["20", "20 °C"],
  ["25", "25 °C"],
];

export function CircumstanceFields({ restRule, values, complaints, doubts = {}, onChange }: Props) {
  return (
    <>
      <Choice legend="Charge" name="charge" options={charges} value={values.charge} onChoose={(charge) => onChange({ charge })} />
      <div class="stack">
        <NumberField
          name="rested_min"
          label="Rested since charging"
          quantity="minutes"
          help={restRule ? `In minutes; the team waits ${restRule} min` : "In minutes"}
          text={values.rested_min}
          complaint={complaints.rested_min}
          doubt={doubts.rested_min}
          onText={(rested_min) => onChange({ rested_min })}
        />
        <Quick label="Rested" options={rests} value={values.rested_min} onChoose={(rested_min) => onChange({ rested_min })} />
      </div>
      <div class="stack">
        <NumberField
          name="temperature_c"
          label="Temperature of the pack"
          quantity="temperature"
          help="In °C; the room's if the pack has lain there for hours"
          signed
          text={values.temperature_c}
          complaint={complaints.temperature_c}
          doubt={doubts.temperature_c}
          onText={(temperature_c) => onChange({ temperature_c })}
        />
        <Quick
          label="Temperature"
          options={temperatures}
          value={values.temperature_c}
          onChoose={(temperature_c) => onChange({ temperature_c })}
        />
      </div>
    </>
  );
}

/** Buttons that fill a field with a usual answer. */
function Quick({
  label,
  options,
  value,
  onChoose,
}: {
  label: string;
  options: [string, string][];
  value: string;
  onChoose: (text: string) => void;
}) {
  return (
    <div class="chips" role="group" aria-label={`${label}, usual answers`}>
      {options.map(([text, words]) => (
        <button key={text} type="button" class="chip-button" aria-pressed={value === text} onClick={() => onChoose(text)}>
          {words}
        </button>
      ))}
    </div>
  );
}
