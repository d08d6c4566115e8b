// The fields of a pack's profile, for adding and for changing one.
import { bestNowMS } from "../data/status";
import { Check, mostWords, TextField } from "../ui/fields";
import { daysUntil, type NumberSpec, type Texts, type TypedField } from "../ui/form";
import { NumberField } from "../ui/numberfield";
import type { Row } from "./model";

export const profileNumbers: Record<"capacity_ah" | "cells" | "fuse_a" | "lead_mm2" | "lead_length_mm", NumberSpec> = {
  capacity_ah: { quantity: "ampere-hours", needed: "the rated capacity is missing: it is printed on the cells" },
  cells: { quantity: "count", needed: "the number of cells in series is missing" },
  fuse_a: { quantity: "current", needed: "the rating of the fuse in the lead is missing: it is printed on the fuse" },
  lead_mm2: { quantity: "area" },
  lead_length_mm: { quantity: "length" },
};

export const newProfile: Texts = {
  name: "",
  capacity_ah: "3",
  cells: "10",
  in_service: "",
  fuse_a: "20",
  lead_mm2: "",
  lead_length_mm: "",
  connector: "",
};

export function textsOf(row: Row): Texts {
  const number = (value: number) => (value ? String(value) : "");
  return {
    name: row.name,
    capacity_ah: number(row.capacity_ah),
    cells: number(row.cells),
    in_service: row.in_service,
    fuse_a: number(row.fuse_a),
    lead_mm2: number(row.lead_mm2),
    lead_length_mm: number(row.lead_length_mm),
    connector: row.connector,
    retired: row.retired ? "yes" : "",
    retired_why: row.retired_why,
  };
}

const connectors = ["two-pole, flat blades, moulded", "two-pole, round pins", "ring terminals", "single-pole, blades, side by side"];

const whys = ["resistance above the limit", "lost a cell", "capacity at its end", "damaged", "lost or given away"];

interface Props {
  texts: Texts;
  field: (name: string) => TypedField;
  disposal?: string; // what to do with it at its end; none where it cannot be retired yet
}

export function ProfileFields({ texts, field, disposal }: Props) {
  const until = daysUntil(texts.in_service ?? "", bestNowMS());
  return (
    <>
      <TextField
        {...field("name")}
        label="Name on the pack"
        help="What the team calls it: A1, Blue 3 …"
        most={60}
        autocapitalize="words"
      />
      <div class="fields">
        <NumberField {...field("capacity_ah")} label="Capacity" quantity="ampere-hours" />
        <NumberField {...field("cells")} label="Cells in series" quantity="count" />
        <NumberField {...field("fuse_a")} label="Fuse" quantity="current" />
        <TextField
          {...field("in_service")}
          class="full"
          label="In service since"
          type="date"
          help={until > 0 ? `Still to come: ${until === 1 ? "tomorrow" : `in ${until} days`}. Is that right?` : undefined}
        />
      </div>
      <details>
        <summary>Lead and connector (may stay empty)</summary>
        <div class="fields">
          <NumberField {...field("lead_mm2")} label="Lead, copper area" quantity="area" help="In mm²" />
          <NumberField {...field("lead_length_mm")} label="Lead, length one way" quantity="length" help="In mm" />
          <TextField
            {...field("connector")}
            class="full"
            label="Kind of connector"
            help="In your own words"
            list={connectors}
            most={60}
          />
        </div>
      </details>
      {disposal !== undefined && <h2>{texts.retired === "yes" ? "Retired" : "Retire this pack"}</h2>}
      {disposal !== undefined && (
        <Check
          name="retired"
          label="Retired: out of the fleet, kept in the record"
          checked={texts.retired === "yes"}
          onChange={(on) => field("retired").onText(on ? "yes" : "")}
        />
      )}
      {disposal !== undefined && texts.retired === "yes" && (
        <>
          <TextField {...field("retired_why")} label="Why" help="It stays in the record: lost a cell, damaged …" list={whys} most={mostWords} />
          <p class="small">{disposal}</p>
        </>
      )}
    </>
  );
}
