// What the team shares: meter, load, limits, robot, the way of testing.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { barred } from "../data/access";
import { overview } from "../data/fleet";
import { Check, TextField } from "../ui/fields";
import { readNumbers, type Complaints, type Texts } from "../ui/form";
import { NumberField } from "../ui/numberfield";
import { Failed } from "../ui/notice";
import { Panel } from "../ui/screen";
import { useSetupCheck } from "./guided/setupstep";
import { History } from "./history";
import { AddressAdvice, useAsked } from "./labeladdress";
import { addressDoubt, ownAddress } from "./labelbase";
import type { Setup } from "./model";
import { SettingsScreen, type SettingsForm } from "./settingsscreen";
import { SetupSummary } from "./setupsummary";
import { settingsOf, teamNumbers, textsOf, type TeamNumber } from "./teamform";

export function TeamSetup() {
  const ask = useAsked();
  const wrongWith = (texts: Texts, _: unknown, before: Texts): Complaints => {
    const address = texts.base_url === before.base_url ? null : ask(texts.base_url ?? "");
    return address ? { base_url: address } : {};
  };
  return (
    <SettingsScreen
      title="Meter, load and limits"
      draftKey="team"
      numbers={teamNumbers}
      textsOf={textsOf}
      settingsOf={settingsOf}
      wrongWith={wrongWith}
      intro={
        barred()
          ? "These are used in this browser. The team has its own on the server, which come when this device joins."
          : "The whole team shares these. Each change is an entry with your initials."
      }
      crewIntro="What is typed here shows what it would mean, and is not saved for the team."
      saved="Set-up saved"
    >
      {(form) => (
        <div class="columns">
          <Fields {...form} />
          <div class="stack">
            <WhatItTells texts={form.texts} />
            <History title="History of the settings" what="settings entry" code="" changes={overview.value?.team_history ?? []} />
          </div>
        </div>
      )}
    </SettingsScreen>
  );
}

const tiny: TeamNumber[] = ["resolution_v", "uncertainty_ohm", "lead_ohm"];

type Ask = [name: TeamNumber, label: string, help?: string];

const groups: [title: string, asks: Ask[]][] = [
  [
    "Meter",
    [
      ["reading_pct", "Accuracy, % of reading", "From its manual, d.c. volts"],
      ["counts", "and counts", "The digits after the plus"],
      ["resolution_v", "Last digit", "In V on the range used: 0.01"],
    ],
  ],
  [
    "Load",
    [
      ["ohm", "Resistance"],
      ["tolerance_pct", "Tolerance ±", "In %; or the next field"],
      ["uncertainty_ohm", "Measured to, u", "Standard uncertainty, Ω"],
      ["lead_ohm", "Its leads", "In Ω; empty if measured with it"],
      ["rating_w", "Rated power", "In W, on its heat sink"],
      ["tempco_ppm_k", "Temperature coefficient ±", "In ppm/K, from its data sheet; may stay empty"],
    ],
  ],
  [
    "Limits",
    [
      ["competition_ohm", "Competition, at most"],
      ["practice_ohm", "Practice, at most", "Empty: worked out from the robot"],
      ["rest_v", "Robot: pack at rest"],
      ["brownout_v", "Robot: brown-out"],
      ["peak_a", "Robot: peak current"],
    ],
  ],
  [
    "Way of testing",
    [
      ["read_after_s", "Read after", "Seconds on load; keep it the same"],
      ["repeats", "Readings per test"],
      ["rest_min", "Rest after charging"],
      ["retest_days", "A test is old after, days"],
    ],
  ],
];

function Fields({ texts, field }: SettingsForm) {
  return (
    <div class="stack">
      {groups.map(([title, asks]) => (
        <Panel key={title} title={title}>
          {title === "Load" && (
            <TextField {...field("load_name")} label="What it is" help="For example: 10 Ω in a metal case" most={60} />
          )}
          <div class="fields">
            {asks.map(([name, label, help]) => (
              <NumberField
                key={name}
                {...field(name)}
                label={label}
                help={help}
                quantity={teamNumbers[name].quantity}
                tiny={tiny.includes(name)}
              />
            ))}
          </div>
          {title === "Load" && (
            <Check
              label="It sits on a heat sink"
              checked={texts.on_heat_sink === "yes"}
              onChange={(on) => field("on_heat_sink").onText(on ? "yes" : "")}
            />
          )}
        </Panel>
      ))}
      <Panel title="Team and labels">
        <TextField {...field("name")} label="Team name" most={60} />
        <TextField
          {...field("base_url")}
          label="Address on labels"
          type="url"
          help={`What the QR code opens, for the life of a label. Empty: the server's own${addressDoubt(ownAddress()) ? "" : `, ${ownAddress()}`}.`}
          most={100}
          autocapitalize="none"
        />
        <AddressAdvice typed={texts.base_url ?? ""} onUse={field("base_url").onText} />
      </Panel>
    </div>
  );
}

/** The weakest fuse among the packs in service, ampere; 0 where none is known. */
function smallestFuse(): number {
  const fuses = (overview.value?.packs ?? []).filter((row) => !row.retired && row.fuse_a > 0).map((row) => row.fuse_a);
  return fuses.length > 0 ? Math.min(...fuses) : 0;
}

/** The set-up check of what is typed, as it changes. */
function WhatItTells({ texts }: { texts: Texts }) {
  const setup = useSignal<Setup | null>(null);
  const key = JSON.stringify(texts);
  useEffect(() => {
    let current = true;
    void readNumbers(teamNumbers, texts).then(({ numbers, complaints }) => {
      if (!current || Object.keys(complaints).length > 0) return;
      const { meter, load, robot, competition_ohm, repeats, read_after_s } = settingsOf(texts, numbers);
      setup.value = {
        meter,
        load,
        fuse_a: smallestFuse(),
        open_v: robot.rest_v,
        limit_ohm: competition_ohm,
        repeats,
        read_after_s,
      } as Setup;
    });
    return () => {
      current = false;
    };
  }, [key]);
  const { check, complaint } = useSetupCheck(setup.value);
  return (
    <Panel title="What this set-up can tell">
      {check ? <SetupSummary check={check} /> : <p>Fill in meter, load and limits to see.</p>}
      <Failed what="It cannot be checked" complaint={complaint} />
    </Panel>
  );
}
