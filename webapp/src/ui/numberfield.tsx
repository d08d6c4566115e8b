// A number as a person types it: comma or point, read by the core, and what
// was understood written underneath with its unit.
import { type Ref } from "preact";
import { useId, useState } from "preact/hooks";
import { call } from "../core/bridge";
import type { NumberAnswer, Quantity } from "../views/model";
import { useAnswer, type Answered } from "./answer";
import { echo } from "./format";
import { Icon } from "./icon";
import { sentence, type Complaint } from "./notice";

interface NumberFieldProps {
  name: string; // the JSON name of what it fills, so that a complaint finds it
  label: string;
  labelMore?: string; // for screen readers, where the surroundings say it to the eye
  quantity: Quantity;
  text: string;
  onText: (text: string) => void;
  help?: string;
  big?: boolean;
  tiny?: boolean; // a step or an uncertainty: small values are no slip
  signed?: boolean; // offers a sign button: phone keypads have no minus
  complaint?: Complaint; // from a check of the whole form
  doubt?: Complaint; // possible, but worth a look; said once the field is left
  inputRef?: Ref<HTMLInputElement>;
  last?: boolean; // the keyboard's enter key sends instead of moving on
}

export function NumberField(p: NumberFieldProps) {
  const id = useId();
  const read = useReading(p.text, p.quantity);
  const [focused, setFocused] = useState(false);
  const complaint = p.complaint ?? (focused ? null : read.complaint);
  const slip = p.tiny ? "" : read.answer?.doubt;
  const doubt = slip ? { text: slip, hint: "" } : focused ? null : p.doubt;
  return (
    <div class={p.big ? "field big" : "field"}>
      <label for={id}>
        {p.label}
        {p.labelMore && <span class="unseen">, {p.labelMore}</span>}
      </label>
      <div class="field-row">
        <input
          ref={p.inputRef}
          id={id}
          name={p.name}
          type="text"
          inputMode="decimal"
          enterkeyhint={p.last ? "done" : "next"}
          autocomplete="off"
          value={p.text}
          aria-invalid={complaint ? "true" : undefined}
          aria-describedby={`${id}-echo ${id}-complaint`}
          onInput={(e) => p.onText(e.currentTarget.value)}
          onFocus={() => setFocused(true)}
          onBlur={() => setFocused(false)}
        />
        {p.signed && (
          <button
            type="button"
            class="button"
            aria-label={`Change sign of ${p.label.toLowerCase()}`}
            onClick={() => p.onText(flip(p.text))}
          >
            ±
          </button>
        )}
      </div>
      <div class="echo small" id={`${id}-echo`} aria-live="polite">
        {read.answer ? `= ${echo(p.text, read.answer.value, read.answer.shown)}` : p.help}
      </div>
      <FieldComplaint id={`${id}-complaint`} complaint={complaint ?? doubt} />
    </div>
  );
}

export function FieldComplaint({ id, complaint }: { id: string; complaint: Complaint | null | undefined }) {
  return (
    <div id={id} role="status">
      {complaint && (
        <div class="complaint small">
          <Icon name="alert" />
          <span>
            {sentence(complaint.text)} {complaint.hint && sentence(complaint.hint)}
          </span>
        </div>
      )}
    </div>
  );
}

function flip(text: string): string {
  return /^[-−]/.test(text) ? text.slice(1) : `-${text}`;
}

/** What the core reads in a text. */
function useReading(text: string, quantity: Quantity): Answered<NumberAnswer> {
  const empty = text.trim() === "";
  const read = useAnswer(() => (empty ? null : call("read-number", { text, quantity })), [text, quantity]);
  return empty ? { answer: null, complaint: null } : read;
}
