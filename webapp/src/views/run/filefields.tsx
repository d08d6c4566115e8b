// What a logger's file does not say: what the run was for and with what.
import type { RunPreview, RunPurpose } from "../../core/types";
import { Choice, TextField } from "../../ui/fields";
import type { NumberSpec, TypedField } from "../../ui/form";
import { plain } from "../../ui/format";
import type { Complaint } from "../../ui/notice";
import { NumberField } from "../../ui/numberfield";
import { Panel } from "../../ui/screen";
import type { Pack, Team } from "../model";

export const fileNumbers = {
  load_ohm: { quantity: "resistance" },
  stop_v: { quantity: "voltage" },
  pack_c: { quantity: "temperature" },
} satisfies Record<string, NumberSpec>;

export interface FileAnswers {
  purpose: RunPurpose;
  full: "yes" | "no" | "unknown" | ""; // empty: not said yet
  discharge: "" | "positive" | "negative";
}

interface Props {
  pack: Pack;
  team: Team;
  preview: RunPreview;
  field: (name: string) => TypedField;
  answers: FileAnswers;
  unsaid: Complaint | undefined; // about answers.full
  onAnswer: (part: Partial<FileAnswers>) => void;
}

export function FileFields({ pack, team, preview, field, answers, unsaid, onAnswer }: Props) {
  const { format } = preview;
  const number = (name: keyof typeof fileNumbers) => ({ ...field(name), quantity: fileNumbers[name].quantity });
  const drive = answers.purpose === "drive";
  return (
    <Panel title="What was logged">
      <Choice
        legend="The run was"
        name="purpose"
        options={[
          ["drive", "On the robot"],
          ["capacity", "A capacity check"],
        ]}
        value={answers.purpose}
        onChoose={(purpose) => onAnswer({ purpose })}
      />
      {drive ? (
        <p class="small">Time under {plain(team.limits.robot.brownout_v)} V is counted, the team's brown-out voltage.</p>
      ) : (
        <Choice
          legend="At the start the pack was"
          name="full"
          options={[
            ["yes", "Full"],
            ["no", "Not full"],
            ["unknown", "Not known"],
          ]}
          value={answers.full}
          complaint={unsaid}
          onChoose={(full) => onAnswer({ full })}
        />
      )}
      <TextField
        {...field("started_at")}
        label="When it was run"
        type="datetime-local"
        help={preview.started_ms === null ? "Filled in from the file's own date" : "From the first row"}
      />
      {(!drive || format.amp_column === 0) && (
        <div class="fields">
          {!drive && <NumberField {...number("stop_v")} label="Stop voltage" help="Empty: 1.0 V per cell" />}
          {format.amp_column === 0 && <NumberField {...number("load_ohm")} label="Load" help="Where a resistor was on all the time" />}
        </div>
      )}
      <NumberField {...number("pack_c")} label="Temperature of the pack at the start" help="In °C" signed />
      {format.amp_column > 0 && (
        <Choice
          legend="A discharge current is"
          name="discharge"
          options={[
            ["", "Find out"],
            ["positive", "Positive"],
            ["negative", "Negative"],
          ]}
          value={answers.discharge}
          onChoose={(discharge) => onAnswer({ discharge })}
        />
      )}
      {pack.capacity_ah === 0 && !drive && <p class="small">The rated capacity is not in the pack's profile: there will be no verdict.</p>}
    </Panel>
  );
}
