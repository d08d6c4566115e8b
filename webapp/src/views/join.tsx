// Join the team's server: with the code of an invitation, scanned or typed.
import { useSignal } from "@preact/signals";
import { type ComponentChildren } from "preact";
import { useEffect } from "preact/hooks";
import { hasJoined } from "../data/rights";
import { join, leave, MOST_NAME, readInvitation } from "../data/devices";
import { MOST_INITIALS, prefs, setPref } from "../data/prefs";
import { access, membership, ready, role, tier } from "../data/status";
import { go } from "../router";
import { useAction } from "../ui/action";
import { useDraft } from "../ui/draft";
import { TextField, tooLong } from "../ui/fields";
import { useComplaints, type Complaints } from "../ui/form";
import { Failed, Notice } from "../ui/notice";
import { roleWord } from "../ui/rolewords";
import { Panel, Screen } from "../ui/screen";
import { say } from "../ui/toast";
import { Unopened } from "../ui/unopened";

export function Join() {
  if (ready.value !== "ready") {
    return (
      <Frame>
        <Unopened />
      </Frame>
    );
  }
  if (tier.value === "here") {
    return (
      <Frame>
        <p>The server runs on this machine. Nobody has to join here; phones do, with a code from the list of devices.</p>
        <a class="button main" href="/setup/devices">
          Devices
        </a>
      </Frame>
    );
  }
  if (tier.value === "plain") {
    return (
      <Frame>
        <Notice warm>
          <strong>Nobody can join over plain http.</strong>
          <p>Open the invitation's https address, or scan its square with the phone's camera.</p>
        </Notice>
      </Frame>
    );
  }
  return hasJoined() ? <Joined /> : <JoinForm />;
}

function Frame({ title = "Join the team", children, dock }: { title?: string; children: ComponentChildren; dock?: ComponentChildren }) {
  return (
    <Screen title={title} back={["/", "Packs"]} dock={dock}>
      {children}
    </Screen>
  );
}

function JoinForm() {
  const code = useHashCode();
  const draft = useDraft("join", { name: membership.value?.name ?? "", initials: prefs.value.initials }) // joining again: by the same name;
  const { show, field } = useComplaints();
  const act = useAction();
  const texts = draft.value.value;
  const send = () =>
    act.run(async () => {
      if (!texts) return;
      const read = readInvitation(code.value);
      const found: Complaints = {};
      if (!read) found.code = { text: "that is no code of an invitation", hint: "eight characters, as on the lead's screen" };
      if (texts.name.trim() === "") found.name = { text: "the device needs a name", hint: "say which one it is, not whose" };
      const long = tooLong(texts.name, MOST_NAME) ?? tooLong(texts.initials, MOST_INITIALS);
      if (show(found) || long) return;
      const device = await join(read, texts.name.trim());
      history.replaceState(null, "", "/join"); // the code is used up
      await setPref("initials", texts.initials.trim());
      await draft.drop();
      say(`Joined as ${device.name}`);
    });
  return (
    <Frame
      dock={
        <button type="button" class="button main" onClick={send} aria-disabled={act.busy.value}>
          {act.busy.value ? "Joining …" : "Join"}
        </button>
      }
    >
      {access.value === "signed-out" && (
        <Notice>
          <strong>This device was taken off the list.</strong>
          <p>What it keeps stays on it, and is sent once it has joined again.</p>
        </Notice>
      )}
      <TextField
        {...field("code", code.value, (text) => (code.value = text))}
        label="Code of the invitation"
        help="Eight characters. A lead makes it under Set-up, Devices; on the laptop packwright invite does too. It lasts ten minutes."
        autocapitalize="characters"
      />
      <a class="button" href="/scan">
        Scan the invitation instead
      </a>
      {texts && (
        <>
          <TextField
            {...field("name", texts.name, (name) => draft.change({ name }))}
            label="Name of this device"
            help="Which one it is, for the list: “pit phone 2”. No names of people."
            most={MOST_NAME}
          />
          <TextField
            name="initials"
            label="Your initials"
            help="Stand beside every entry made here. May stay empty; no full names."
            text={texts.initials}
            most={MOST_INITIALS}
            autocapitalize="characters"
            onText={(initials) => draft.change({ initials })}
          />
        </>
      )}
      <Failed show what="Not joined" complaint={act.failed.value} />
    </Frame>
  );
}

/** The code behind the # of the address, until something else is typed; a scanned invitation may arrive while the screen is open. */
function useHashCode() {
  const code = useSignal("");
  useEffect(() => {
    const read = () => {
      const found = readInvitation(location.hash);
      if (found) code.value = `${found.slice(0, 4)}-${found.slice(4)}`;
    };
    read();
    addEventListener("hashchange", read);
    return () => removeEventListener("hashchange", read);
  }, []);
  return code;
}

function Joined() {
  const act = useAction();
  const out = () =>
    act.run(async () => {
      await leave();
      say("This device has left");
      go("/", true);
    });
  return (
    <Frame
      title="Joined"
      dock={
        <a class="button main" href="/">
          To the packs
        </a>
      }
    >
      <p>
        <strong>This device has joined{membership.value && ` as ${membership.value.name}`}.</strong>{" "}
        {role.value && `It is ${roleWord[role.value].name.toLowerCase()}. ${roleWord[role.value].may}`}
      </p>
      {access.value === "unknown" && <p class="small quiet">As last told: the server was not in reach since.</p>}
      {tier.value === "trusted" && (
        <Panel title="Keep it at hand">
          <p>Put packwright on the home screen by the browser's menu: Install, or Add to home screen. It then opens without a network.</p>
        </Panel>
      )}
      <details class="panel">
        <summary>Leave</summary>
        <p>The server forgets this device's access. What is stored here stays, and what is unsent is sent only after joining again.</p>
        <button type="button" class="button" onClick={out} aria-disabled={act.busy.value}>
          Leave the team's server
        </button>
        <Failed what="Not left" complaint={act.failed.value} />
      </details>
    </Frame>
  );
}
