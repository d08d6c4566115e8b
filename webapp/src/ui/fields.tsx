// Fields that are not numbers.
import { type ComponentChildren } from "preact";
import { useId } from "preact/hooks";
import { FieldComplaint } from "./numberfield";
import type { Complaint } from "./notice";

interface TextFieldProps {
  name: string;
  label: string;
  text: string;
  onText: (text: string) => void;
  help?: string;
  type?: "text" | "date" | "datetime-local" | "search" | "url";
  lines?: boolean;
  list?: string[]; // suggestions
  most?: number; // characters: what is pasted is kept whole and complained about
  complaint?: Complaint;
  class?: string;
  autocapitalize?: "characters" | "none" | "words" | "sentences";
  onFocused?: (on: boolean) => void;
}

export const mostNote = 4000;
export const mostWords = 1000; // of a finding and of its closing

/** tooLong says by how much a text is too long, in characters as the core counts them, or gives null. */
export function tooLong(text: string, most: number): string | null {
  const chars = [...text.trim()].length;
  return chars > most ? `there are ${chars} characters, and ${most} are allowed` : null;
}

/** lengthComplaint is what stands beside a field whose text is too long, or null. */
export function lengthComplaint(text: string, most: number): Complaint | null {
  const long = tooLong(text, most);
  return long ? { text: long, hint: "shorten it" } : null;
}

export function TextField(p: TextFieldProps) {
  const id = useId();
  const long = p.most === undefined ? null : lengthComplaint(p.text, p.most);
  const complaint = p.complaint ?? long;
  const shared = {
    id,
    name: p.name,
    value: p.text,
    autocomplete: "off" as const,
    autocapitalize: p.autocapitalize,
    "aria-invalid": complaint ? ("true" as const) : undefined,
    "aria-describedby": `${id}-help ${id}-complaint`,
  };
  return (
    <div class={`field ${p.class ?? ""}`}>
      <label for={id}>{p.label}</label>
      {p.lines ? (
        <textarea {...shared} rows={3} onInput={(e) => p.onText(e.currentTarget.value)} />
      ) : (
        <input
          {...shared}
          type={p.type ?? "text"}
          list={p.list ? `${id}-list` : undefined}
          spellcheck={false}
          onInput={(e) => p.onText(e.currentTarget.value)}
          onFocus={() => p.onFocused?.(true)}
          onBlur={() => p.onFocused?.(false)}
        />
      )}
      {p.list && (
        <datalist id={`${id}-list`}>
          {p.list.map((word) => (
            <option key={word} value={word} />
          ))}
        </datalist>
      )}
      <div class="small quiet" id={`${id}-help`}>
        {p.help}
      </div>
      <FieldComplaint id={`${id}-complaint`} complaint={complaint} />
    </div>
  );
}

interface ChoiceProps<V extends string> {
  legend: string;
  name: string;
  options: [V, ComponentChildren][];
  value: V | "";
  onChoose: (value: V) => void;
  complaint?: Complaint;
}

/** One of a few, all in sight. */
export function Choice<V extends string>(p: ChoiceProps<V>) {
  const id = useId();
  return (
    <fieldset class="field" aria-describedby={`${id}-complaint`}>
      <legend class="legend">{p.legend}</legend>
      <div class="chips">
        {p.options.map(([value, words]) => (
          <label class="chip" key={value}>
            <input type="radio" name={p.name} value={value} checked={p.value === value} onChange={() => p.onChoose(value)} />
            <span>{words}</span>
          </label>
        ))}
      </div>
      <FieldComplaint id={`${id}-complaint`} complaint={p.complaint} />
    </fieldset>
  );
}

export function Check(p: { label: string; checked: boolean; onChange: (on: boolean) => void; name?: string }) {
  return (
    <label class="check">
      <input type="checkbox" name={p.name} checked={p.checked} onChange={(e) => p.onChange(e.currentTarget.checked)} />
      <span>{p.label}</span>
    </label>
  );
}

interface SelectProps {
  name: string;
  label: string;
  value: string;
  options: [string, string][];
  onChoose: (value: string) => void;
}

export function SelectField(p: SelectProps) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{p.label}</label>
      <select id={id} name={p.name} value={p.value} onChange={(e) => p.onChoose(e.currentTarget.value)}>
        {p.options.map(([value, words]) => (
          <option key={value} value={value}>
            {words}
          </option>
        ))}
      </select>
    </div>
  );
}
