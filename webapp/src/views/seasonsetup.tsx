// What the team wants of the season, and the rules on which sources disagree.
import { type ComponentChildren } from "preact";
import { overview } from "../data/fleet";
import { Check, SelectField, TextField } from "../ui/fields";
import { dateComplaint, type Complaints, type Texts } from "../ui/form";
import { NumberField } from "../ui/numberfield";
import { Panel } from "../ui/screen";
import { History } from "./history";
import { seasonFields, seasonNumbers, seasonOf, seasonTexts, type SeasonNumber, type SeasonValues } from "./seasonform";
import { SettingsScreen, type SettingsForm } from "./settingsscreen";

export function SeasonSetup() {
  const changes = (overview.value?.team_history ?? []).filter((change) => seasonFields.includes(change.field));
  return (
    <SettingsScreen
      title="Season"
      draftKey="season"
      numbers={seasonNumbers}
      textsOf={seasonTexts}
      settingsOf={seasonOf}
      wrongWith={wrongWith}
      intro="The whole team shares these. Where sources disagree, what they say stands beside the field, and the team chooses."
      crewIntro="What is typed here is not saved for the team."
      saved="Season saved"
    >
      {(form) => (
        <>
          <Fields {...form} />
          <History title="History of these settings" what="settings entry" code="" changes={changes} />
        </>
      )}
    </SettingsScreen>
  );
}

function wrongWith(texts: Texts, numbers: SeasonValues): Complaints {
  const found: Complaints = {};
  const date = texts.event_date ? dateComplaint(texts.event_date) : null;
  if (date) found.event_date = date;
  const { capacity_good_pct: good, capacity_end_pct: end } = numbers; // the core sees them together only where both change
  if (good !== undefined && end !== undefined && end > good) {
    found.capacity_end_pct = { text: "a pack cannot be at its end where it is still good", hint: "enter the lower share here" };
  }
  return found;
}

function Fields({ texts, field }: SettingsForm) {
  const number = (name: SeasonNumber) => ({ ...field(name), quantity: seasonNumbers[name].quantity });
  const packs = (overview.value?.packs ?? []).filter((row) => !row.retired || row.code === texts.reference_pack);
  return (
    <div class="columns">
      <div class="stack">
        <Panel title="The next event">
          <TextField {...field("event_name")} label="Name" most={60} help="May stay empty" />
          <TextField {...field("event_date")} label="First day" type="date" help="The board looks ahead to this day" />
          <div class="fields">
            <NumberField {...number("wanted_packs")} label="Packs wanted" help="Fit for competition then" />
            <NumberField {...number("wanted_pct")} label="How sure" help="In %: 90 is nine times in ten" />
          </div>
        </Panel>
        <Panel title="Buying">
          <div class="fields">
            <NumberField {...number("pack_price")} label="Price of one pack" help="A whole number; empty: not known" />
            <TextField {...field("currency")} label="Currency" most={10} help="As it stands after the sum" />
            <NumberField {...number("delivery_days")} label="Days to a ready pack" help="From ordering until it is run in and tested" />
          </div>
        </Panel>
        <Panel title="Comparing tests">
          <Disputed
            says={[
              "By a published table of a hybrid car's cells, resistance changes by about 2.6 % for each °C below 26 °C.",
              "Other cells differ, so the correction brings an uncertainty of its own. Values as measured are always kept.",
            ]}
          >
            <Check
              name="to_20c"
              label="Bring resistances to 20 °C before comparing"
              checked={texts.to_20c === "yes"}
              onChange={(on) => field("to_20c").onText(on ? "yes" : "")}
            />
          </Disputed>
          <SelectField
            name="reference_pack"
            label="Reference pack"
            value={texts.reference_pack ?? ""}
            options={[["", "None"], ...packs.map((row): [string, string] => [row.code, `${row.name || "No name"}, ${row.code}`])]}
            onChoose={field("reference_pack").onText}
          />
          <p class="small quiet">A pack that rests and is only tested to check meter and load. Where it reads as ever, the set-up is sound.</p>
        </Panel>
      </div>
      <div class="stack">
        <Panel title="Capacity">
          <Disputed
            says={[
              "60 % of the rating ends the endurance test of IEC 61951-2, as makers' data sheets quote it.",
              "80 % is usual where power counts: from memory, no source at hand.",
            ]}
          >
            <div class="fields">
              <NumberField {...number("capacity_good_pct")} label="Good from" help="In % of the rating" />
              <NumberField {...number("capacity_end_pct")} label="At its end below" help="In % of the rating" />
            </div>
          </Disputed>
        </Panel>
        <Panel title="Charging">
          <Disputed
            says={[
              "A measured fast charge that ended by the drop of voltage put in 110 % of what was missing (calculated from a published cell model).",
              "Makers' data sheets stop a fast charge at 105 to 120 % of the rating.",
              "By the clock, at a tenth of the rating, it is 150 to 160 %.",
            ]}
          >
            <NumberField
              {...number("charge_factor")}
              label="Charge put in, of what was missing"
              help="In %; far less or far more is pointed out"
            />
          </Disputed>
          <Disputed
            says={[
              "20 to 30 % in a month for ordinary cells, several makers; others say 10 to 35 %, an encyclopedia 14 to 71 %.",
              "40 % in 28 days is what IEC 61951-2 allows, as a data sheet quotes it.",
              "Cells sold for low self-discharge lose less than 3 %.",
            ]}
          >
            <NumberField {...number("self_discharge_pct_month")} label="Usual loss in 30 days" help="In % of the rating; more is called high" />
          </Disputed>
        </Panel>
        <Panel title="Storage">
          <Disputed
            says={[
              "Every three to six months is common practice, no source.",
              "How full to store: any, 30 to 50 %, or 40 %, depending on the maker. The cell maker's instructions come first.",
            ]}
          >
            <NumberField {...number("top_up_days")} label="Top up stored packs after, days" />
          </Disputed>
          <Disputed says={["Two makers of tools and lamps ask for a full cycle every six months; most say nothing."]}>
            <NumberField {...number("condition_days")} label="Full slow cycle after, days" />
          </Disputed>
          <p class="small quiet">
            Rest before a test: laboratories wait one hour, one open data set shows change up to four.{" "}
            <a href="/setup/team">It is set with the way of testing</a>.
          </p>
        </Panel>
      </div>
    </div>
  );
}

/** A setting with what sources say of it. */
function Disputed({ says, children }: { says: string[]; children: ComponentChildren }) {
  return (
    <div class="disputed">
      {children}
      <div>
        <p class="small">
          <strong>{says.length > 1 ? "Sources differ" : "Few sources"}</strong>
        </p>
        <ul class="bullets small">
          {says.map((line) => (
            <li key={line}>{line}</li>
          ))}
        </ul>
      </div>
    </div>
  );
}
