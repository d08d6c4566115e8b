// Which column holds what, as it was found out; a person may correct it.
import { useSignal } from "@preact/signals";
import type { SheetColumn, SheetField, SheetPlan } from "../../core/types";
import { SelectField } from "../../ui/fields";
import { readNumbers, useComplaints } from "../../ui/form";
import { NumberField } from "../../ui/numberfield";
import { sentence } from "../../ui/notice";
import { Panel } from "../../ui/screen";

const fields: [SheetField, string][] = [
  ["", "Not used"],
  ["pack", "Pack, name or code"],
  ["date", "Date of the test"],
  ["time", "Time of day"],
  ["open_v", "Voltage, load off"],
  ["loaded_v", "Voltage, load on"],
  ["load_ohm", "Load"],
  ["resistance", "Resistance"],
  ["temperature", "Temperature"],
  ["charge", "State of charge"],
  ["rested_min", "Rested"],
  ["by", "Who tested, initials"],
  ["note", "Note"],
];

/** The units a field may be in, the usual one first. */
const units: Partial<Record<SheetField, string[]>> = {
  open_v: ["V", "mV"],
  loaded_v: ["V", "mV"],
  load_ohm: ["Ω", "mΩ"],
  resistance: ["Ω", "mΩ"],
  temperature: ["°C", "°F"],
  rested_min: ["min", "h"],
};

export function Matching({ plan, onPlan }: { plan: SheetPlan; onPlan: (plan: SheetPlan) => void }) {
  const set = (at: number, part: Partial<SheetColumn>) =>
    onPlan({ ...plan, columns: plan.columns.map((column, i) => (i === at ? { ...column, doubt: "", ...part } : column)) });
  const pick = (name: "delimiter" | "decimal" | "date_order" | "method", label: string, options: [string, string][]) => (
    <SelectField name={name} label={label} value={plan[name]} options={options} onChoose={(value) => onPlan({ ...plan, [name]: value })} />
  );
  const has = (field: SheetField) => plan.columns.some((column) => column.field === field);
  return (
    <Panel title="Columns">
      <ul class="items">
        {plan.columns.map((column, at) => (
          <li key={at}>
            <div class="matching">
              <SelectField
                name={`column.${at}`}
                label={column.name || `Column ${at + 1}`}
                value={column.field}
                options={fields.some(([field]) => field === column.field) ? fields : [...fields, [column.field, "As this app wrote it"]]}
                onChoose={(field) => set(at, { field: field as SheetField, unit: units[field as SheetField]?.[0] ?? "" })}
              />
              {units[column.field] && (
                <SelectField
                  name={`unit.${at}`}
                  label="Unit"
                  value={column.unit}
                  options={(units[column.field] ?? []).map((unit): [string, string] => [unit, unit])}
                  onChoose={(unit) => set(at, { unit })}
                />
              )}
            </div>
            {column.doubt && <p class="small">{sentence(column.doubt)}</p>}
          </li>
        ))}
      </ul>
      {has("loaded_v") && !has("load_ohm") && <LoadOfAll plan={plan} onPlan={onPlan} />}
      <div class="fields roomy">
        {has("resistance") &&
          pick("method", "Resistance was read", [
            ["direct-dc", "With d.c."],
            ["direct-ac", "With a.c., as most instruments do"],
          ])}
        {pick("date_order", "Dates are written", [
          ["ymd", "Year, month, day"],
          ["dmy", "Day, month, year"],
          ["mdy", "Month, day, year"],
        ])}
        {pick("delimiter", "Between columns", [
          [",", "Comma"],
          [";", "Semicolon"],
          ["\t", "Tab"],
        ])}
        {pick("decimal", "Decimal sign", [
          [".", "Point: 12.8"],
          [",", "Comma: 12,8"],
        ])}
      </div>
    </Panel>
  );
}

/** The load of all rows, where no column has it. */
function LoadOfAll({ plan, onPlan }: { plan: SheetPlan; onPlan: (plan: SheetPlan) => void }) {
  const text = useSignal(plan.load_ohm > 0 ? String(plan.load_ohm) : "");
  const { show, field } = useComplaints();
  const use = async () => {
    const read = await readNumbers({ all_load_ohm: { quantity: "resistance", needed: "the load is missing" } }, { all_load_ohm: text.value });
    if (!show(read.complaints)) onPlan({ ...plan, load_ohm: read.numbers.all_load_ohm ?? 0 });
  };
  return (
    <div class="moment">
      <NumberField
        {...field("all_load_ohm", text.value, (typed) => (text.value = typed))}
        label="Load of all these tests"
        quantity="resistance"
      />
      <button type="button" class="button" onClick={() => void use()}>
        Use this load
      </button>
    </div>
  );
}
