// What the team shares: meter, load, limits, robot, the way of testing.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { barred } from "../data/access";
import { overview } from "../data/fleet";
import { record } from "../data/journal";
import { role } from "../data/status";
import { go } from "../router";
import { useAction } from "../ui/action";
import { AskInitials } from "../ui/askinitials";
import { useDraft } from "../ui/draft";
import { Check, TextField } from "../ui/fields";
import { readNumbers, useComplaints, type Complaints, type Texts } from "../ui/form";
import { NumberField } from "../ui/numberfield";
import { Failed, Notice } from "../ui/notice";
import { Restored } from "../ui/restored";
import { Panel, Screen } from "../ui/screen";
import { say } from "../ui/toast";
import { Unopened } from "../ui/unopened";
import { useSetupCheck } from "./guided/setupstep";
import { History } from "./history";
import { AddressAdvice, useAsked } from "./labeladdress";
import { addressDoubt, ownAddress } from "./labelbase";
import type { Setup, Team } from "./model";
import { useTeam } from "./packdata";
import { SetupSummary } from "./setupsummary";
import { changesOf, settingsOf, teamNumbers, textsOf, type TeamNumber } from "./teamform";

export function TeamSetup() {
  const team = useTeam();
  if (!team) {
    return (
      <Screen title="Meter, load and limits" back={["/setup", "Set-up"]}>
        <Unopened />
      </Screen>
    );
  }
  return <TeamForm team={team} />;
}

function TeamForm({ team }: { team: Team }) {
  const before = textsOf(team);
  const draft = useDraft<Texts>("team", {});
  const { complaints, show, place, clear } = useComplaints();
  const save = useAction();
  const ask = useAsked();
  const texts = { ...before, ...draft.value.value };
  const mayChange = role.value !== "crew"; // the server would refuse it
  const keep = () =>
    save.run(async () => {
      const then = settingsOf(before, (await readNumbers(teamNumbers, before)).numbers);
      const read = await readNumbers(teamNumbers, texts);
      const address = texts.base_url === before.base_url ? null : ask(texts.base_url ?? "");
      if (show({ ...read.complaints, ...(address && { base_url: address }) })) return;
      const body = changesOf(then, settingsOf(texts, read.numbers));
      if (Object.keys(body).length > 0) {
        await record("team-changed", "", body);
        say("Set-up saved");
      }
      await draft.drop();
      go("/setup", true);
    }, place);
  const set = (name: string, text: string) => {
    clear(name);
    draft.change({ [name]: text });
  };
  return (
    <Screen
      wide
      title="Meter, load and limits"
      back={["/setup", "Set-up"]}
      dock={
        mayChange && (
          <button type="button" class="button main" onClick={keep} aria-disabled={save.busy.value}>
            Save for the team
          </button>
        )
      }
    >
      {mayChange ? (
        <p>
          {barred()
            ? "These are used in this browser. The team has its own on the server, which come when this device joins."
            : "The whole team shares these. Each change is an entry with your initials."}
        </p>
      ) : (
        <Notice>
          <strong>Only a lead may change these.</strong>
          <p>What is typed here shows what it would mean, and is not saved for the team. A lead changes a device's role under Devices.</p>
        </Notice>
      )}
      {mayChange && <AskInitials />}
      <Restored shown={draft.restored.value} onDrop={draft.startAfresh} />
      <Failed show what="Not saved" complaint={save.failed.value} />
      <div class="columns">
        <Fields texts={texts} complaints={complaints.value} set={set} />
        <div class="stack">
          <WhatItTells texts={texts} />
          <History title="History of the settings" what="settings entry" code="" changes={overview.value?.team_history ?? []} />
        </div>
      </div>
    </Screen>
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

function Fields({ texts, complaints, set }: { texts: Texts; complaints: Complaints; set: (name: string, text: string) => void }) {
  const text = (name: string) => ({
    name,
    text: texts[name] ?? "",
    onText: (typed: string) => set(name, typed),
    complaint: complaints[name],
  });
  return (
    <div class="stack">
      {groups.map(([title, asks]) => (
        <Panel key={title} title={title}>
          {title === "Load" && (
            <TextField {...text("load_name")} label="What it is" help="For example: 10 Ω in a metal case" most={60} />
          )}
          <div class="fields">
            {asks.map(([name, label, help]) => (
              <NumberField
                key={name}
                {...text(name)}
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
              onChange={(on) => set("on_heat_sink", on ? "yes" : "")}
            />
          )}
        </Panel>
      ))}
      <Panel title="Team and labels">
        <TextField {...text("name")} label="Team name" most={60} />
        <TextField
          {...text("base_url")}
          label="Address on labels"
          type="url"
          help={`What the QR code opens, for the life of a label. Empty: the server's own${addressDoubt(ownAddress()) ? "" : `, ${ownAddress()}`}.`}
          most={100}
          autocapitalize="none"
        />
        <AddressAdvice typed={texts.base_url ?? ""} onUse={(address) => set("base_url", address)} />
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
