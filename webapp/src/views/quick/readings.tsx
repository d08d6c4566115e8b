// The readings as rows: one per repeat.
import type { TypedField } from "../../ui/form";
import { NumberField } from "../../ui/numberfield";
import { Panel } from "../../ui/screen";
import { cell, type QuickDraft } from "./body";
import { methodForms } from "./methods";

interface Props {
  draft: QuickDraft;
  field: (name: string) => TypedField;
  onRows: (rows: number) => void;
}

const mostRows = 20;

export function Readings({ draft, field, onRows }: Props) {
  const { columns } = methodForms[draft.method];
  return (
    <Panel title="Readings">
      {Array.from({ length: draft.rows }, (_, row) => (
        <fieldset key={row} class="field">
          <legend class="legend">Reading {row + 1}</legend>
          <div class="fields">
            {columns.map((c) => {
              const name = cell(c.name, row);
              return (
                <NumberField
                  key={name}
                  {...field(name)}
                  label={c.label}
                  labelMore={draft.rows > 1 ? `reading ${row + 1}` : undefined}
                  quantity={c.quantity}
                />
              );
            })}
          </div>
        </fieldset>
      ))}
      <div class="row">
        {draft.rows < mostRows && (
          <button type="button" class="button small" onClick={() => onRows(draft.rows + 1)}>
            Add reading
          </button>
        )}
        {draft.rows > 1 && (
          <button type="button" class="button small" onClick={() => onRows(draft.rows - 1)}>
            Take out the last
          </button>
        )}
      </div>
    </Panel>
  );
}
