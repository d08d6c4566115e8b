// Set-up: what belongs to this device, and the way to what the team shares.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { hasJoined, mayLead } from "../data/rights";
import { barred } from "../data/access";
import { overview } from "../data/fleet";
import { MOST_INITIALS, prefs, setPref, type Prefs } from "../data/prefs";
import {
  access,
  clockOffsetMS,
  lastSync,
  membership,
  offlineProblem,
  persisted,
  reachable,
  ready,
  role,
  syncing,
  syncProblem,
  tier,
  unsent,
  updatePutOff,
} from "../data/status";
import { store } from "../data/store";
import { syncNow } from "../data/sync";
import { useAction } from "../ui/action";
import { saveExport } from "../ui/export";
import { Facts, type Fact } from "../ui/facts";
import { Check, Choice, TextField, tooLong } from "../ui/fields";
import { count, when } from "../ui/format";
import { later } from "../ui/later";
import { LinkLine } from "../ui/linkline";
import { Failed, Notice, sentence } from "../ui/notice";
import { roleWord } from "../ui/rolewords";
import { Panel, Screen } from "../ui/screen";
import { signalRead, unlockSound } from "../ui/signals";
import { tierWords } from "../ui/tier";
import { UpdateReady } from "../ui/updateready";

const OffList = later(async () => (await import("./field")).OffList);
const Upstream = later(async () => (await import("./field")).Upstream);

export function Setup() {
  return (
    <Screen title="Set-up" back={["/", "Packs"]} wide>
      {updatePutOff.value && <UpdateReady />}
      <ul class="links panel">
        <LinkLine href="/setup/team" words="Meter, load and limits of the team" />
        <LinkLine href="/setup/season" words="Season: event, buying, capacity and charging" />
        {mayLead() && <LinkLine href="/setup/devices" words="Devices: who may join" />}
        {mayLead() && <LinkLine href="/setup/journal" words="Read a saved journal" />}
        <LinkLine href="/setup/stored" words="What is stored where" />
        <LinkLine href="/licences.txt" words="Licences of what is inside, from the server" away />
      </ul>
      <div class="columns">
        <div class="stack">
          <Upstream />
          <Connection />
          <Personal />
        </div>
        <div class="stack">
          <Storage />
        </div>
      </div>
    </Screen>
  );
}

/** How far the way to the server can be trusted, and whether it lets this device in. */
function Connection() {
  const { name, means, todo } = tierWords[tier.value];
  const asked = tier.value === "trusted" || tier.value === "clicked";
  const off = access.value === "signed-out";
  const href = todo?.href();
  const facts: Fact[] = [];
  if (asked) facts.push(["This device", standing()]);
  if (asked && role.value) facts.push(["Role", `${roleWord[role.value].name}${access.value === "unknown" ? ", as last told" : ""}`]);
  return (
    <Panel title="The way to the server">
      {off && <OffList />}
      <p>
        <strong>{name}.</strong> {off && tier.value === "trusted" ? "The way is good, but this device is let in no more." : means}
      </p>
      {facts.length > 0 && <Facts list={facts} />}
      {todo && href && (
        <a class="button" href={href}>
          {todo.words}
        </a>
      )}
      {asked && (
        <a class="button" href="/join">
          {hasJoined() ? "What joining means, and leaving" : off ? "Join again" : "Join the team's server"}
        </a>
      )}
    </Panel>
  );
}

/** Who this device is for the server, as last told where it was not asked yet. */
function standing(): string {
  const name = membership.value?.name;
  switch (access.value) {
    case "joined":
      return name ? `joined as ${name}` : "joined";
    case "signed-out":
      return name ? `${name}, taken off the list` : "taken off the list";
    case "stranger":
      return "not joined";
    case "unknown":
      return name ? `joined as ${name}; the server was not asked yet` : "not joined, as far as it knows";
  }
}

function Personal() {
  const act = useAction();
  const set = <K extends keyof Prefs>(key: K, value: Prefs[K]) => act.run(() => setPref(key, value));
  const typed = useSignal<string | null>(null); // null until touched: what is kept may still be on its way
  const initials = typed.value ?? prefs.value.initials;
  const long = tooLong(initials, MOST_INITIALS);
  return (
    <Panel title="This device">
      <TextField
        name="initials"
        label="Your initials"
        help="Stand beside every entry made here. Initials only, no full names."
        text={initials}
        complaint={long ? { text: long, hint: `shorten them; entries ${prefs.value.initials ? `get ${prefs.value.initials}` : "carry none"} until then` } : undefined}
        autocapitalize="characters"
        onText={(text) => {
          typed.value = text;
          if (!tooLong(text, MOST_INITIALS)) void set("initials", text.trim());
        }}
      />
      <Choice
        legend="Screen"
        name="theme"
        options={[
          ["auto", "As the device"],
          ["light", "Light"],
          ["dark", "Dark"],
        ]}
        value={prefs.value.theme}
        onChoose={(theme) => set("theme", theme)}
      />
      <Check label="Sound at the reading second" checked={prefs.value.sound} onChange={(on) => set("sound", on)} />
      <Check label="Vibration too, where the device can" checked={prefs.value.vibrate} onChange={(on) => set("vibrate", on)} />
      <button
        type="button"
        class="button"
        onClick={() => {
          unlockSound();
          setTimeout(signalRead, 100); // the sound is ready a moment after the tap
        }}
      >
        Test sound and vibration
      </button>
      <Failed what="Not saved" complaint={act.failed.value} />
    </Panel>
  );
}

function Storage() {
  const exporting = useAction();
  const offset = clockOffsetMS.value;
  const keepable = offlineProblem.value === null && tier.value !== "clicked"; // else an icon on the home screen opens nothing without the server
  const facts: Fact[] = [
    ["Not yet on the server", ready.value === "ready" ? count(unsent.value, "entry", "entries") : "not known"],
    ["Last sync", lastSync.value === null ? "never" : when(lastSync.value)],
    ["Server", serverWords()],
    ["Storage", persisted.value === null ? "not asked yet" : persisted.value ? "kept by the browser" : "may be cleared by the browser"],
    ["Clock of this device", offset === null ? "not compared yet" : clockWords(offset)],
    ["Works offline", offlineProblem.value ?? "yes, after this first visit"],
    ["Device id", useDevice()],
    ["Version", VERSION],
  ];
  return (
    <Panel title="Sync and storage">
      <Facts list={facts} />
      {syncProblem.value && <Notice warm>{sentence(syncProblem.value)}</Notice>}
      <Clones />
      {persisted.value === false && tier.value !== "plain" && (
        <Notice>
          <p>
            The browser has not promised to keep what is stored. {keepable && "Put the app on the home screen, and sync often"}
            {!keepable && "Sync often"}: what the server has is safe.
          </p>
        </Notice>
      )}
      {tier.value !== "plain" && (
        <button type="button" class="button" onClick={() => void syncNow()} aria-disabled={syncing.value}>
          {syncing.value ? "Syncing …" : "Sync now"}
        </button>
      )}
      <button type="button" class="button" onClick={() => exporting.run(saveExport)} aria-disabled={exporting.busy.value}>
        Save this device's journal as a file
      </button>
      <Failed what="Not exported" complaint={exporting.failed.value} />
      <a class="link" href="/unsent">
        Unsent and refused entries
      </a>
    </Panel>
  );
}

/** Two devices with one id: storage was copied from one to the other. */
function Clones() {
  const ids = overview.value?.clones ?? [];
  if (ids.length === 0) return null;
  return (
    <Notice warm>
      <strong>Two devices seem to share one device id: {ids.join(", ")}.</strong>
      <p>
        It happens when one is set up from a copy of another. Every entry is kept, but who made which cannot be told apart. If this one is one
        of them: once all is sent, clear this site's data in the browser; the next start gives it an id of its own.
      </p>
    </Notice>
  );
}

function serverWords(): string {
  if (tier.value === "plain") return "not asked over plain http";
  if (reachable.value === null) return "not asked yet";
  if (!reachable.value) return "not in reach";
  return barred() ? "in reach, but does not let this device in" : "in reach";
}

function clockWords(offsetMS: number): string {
  const seconds = Math.round(Math.abs(offsetMS) / 1000);
  if (seconds < 5) return "right";
  const amount = seconds < 120 ? `${seconds} s` : `${Math.round(seconds / 60)} min`;
  return `${amount} ${offsetMS > 0 ? "behind" : "ahead of"} the server`;
}

function useDevice(): string {
  const device = useSignal("…");
  useEffect(() => {
    store.device().then(
      (id) => (device.value = id),
      () => (device.value = "not readable"),
    );
  }, []);
  return device.value;
}
