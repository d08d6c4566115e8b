// How a logger's file is written, as it was found out; a person may correct it.
import type { RunFormat, RunPreview, TimeUnit } from "../../core/types";
import { SelectField } from "../../ui/fields";

const delimiters: [string, string][] = [
  [",", "Comma"],
  [";", "Semicolon"],
  ["\t", "Tab"],
];
const decimals: [string, string][] = [
  [".", "Point: 12.8"],
  [",", "Comma: 12,8"],
];
const timeUnits: [TimeUnit, string][] = [
  ["s", "Seconds"],
  ["ms", "Milliseconds"],
  ["min", "Minutes"],
  ["h", "Hours"],
  ["h:m:s", "Clock, h:m:s"],
  ["m:s", "Minutes and seconds, m:s"],
  ["h:m", "Clock, h:m"],
  ["iso", "Date and time, 2026-11-25 14:03:05"],
];

export function FormatForm({ preview, onFormat }: { preview: RunPreview; onFormat: (format: RunFormat) => void }) {
  const { format, columns } = preview;
  const change = (part: Partial<RunFormat>) => onFormat({ ...format, ...part });
  const column = (name: "time_column" | "volt_column" | "amp_column", label: string) => (
    <SelectField
      name={name}
      label={label}
      value={String(format[name])}
      options={[
        ...(name === "amp_column" ? [["0", "Not logged"] as [string, string]] : []),
        ...columns.map((head, i): [string, string] => [String(i + 1), `${i + 1}: ${head}`]),
      ]}
      onChoose={(value) => change({ [name]: Number(value) })}
    />
  );
  const pick = (name: "delimiter" | "decimal" | "time_unit" | "volt_unit" | "amp_unit", label: string, options: [string, string][]) => (
    <SelectField name={name} label={label} value={format[name]} options={options} onChoose={(value) => change({ [name]: value })} />
  );
  return (
    <details class="panel" open={preview.doubts.length > 0 || preview.read === 0}>
      <summary>Columns, units and signs</summary>
      <div class="fields roomy">
        {column("time_column", "Time is in")}
        {column("volt_column", "Volts are in")}
        {column("amp_column", "Amps are in")}
        {pick("time_unit", "Time is written in", timeUnits)}
        {pick("volt_unit", "Volts are in", [
          ["V", "V"],
          ["mV", "mV"],
        ])}
        {format.amp_column > 0 &&
          pick("amp_unit", "Amps are in", [
            ["A", "A"],
            ["mA", "mA"],
          ])}
        {pick("delimiter", "Between columns", delimiters)}
        {pick("decimal", "Decimal sign", decimals)}
      </div>
    </details>
  );
}
