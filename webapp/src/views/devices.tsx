// The devices of the team, for leads: who is in, what each has not sent yet, and
// how the next one gets in.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import type { Device } from "../data/api";
import { changeDevice, listDevices, MOST_NAME } from "../data/devices";
import { membership, role, tier, type Role } from "../data/status";
import { useAction } from "../ui/action";
import { Choice, TextField, tooLong } from "../ui/fields";
import { count, when } from "../ui/format";
import { complaintOf, Failed, Notice, type Complaint } from "../ui/notice";
import { roleWord } from "../ui/rolewords";
import { Panel, Screen } from "../ui/screen";
import { say } from "../ui/toast";
import { Invite } from "./invite";

export function Devices() {
  const { devices, complaint, refresh } = useDevices();
  if (role.value === "crew" || tier.value === "plain") {
    return (
      <Screen title="Devices" back={["/setup", "Set-up"]}>
        <Notice>
          {tier.value === "plain"
            ? "Devices are looked after at the server's encrypted address, or on its own machine."
            : "Only a lead looks after the devices. Ask one, or use the machine the server runs on."}
        </Notice>
      </Screen>
    );
  }
  const inside = devices?.filter((device) => !device.revoked_ms) ?? [];
  const revoked = devices?.filter((device) => device.revoked_ms) ?? [];
  return (
    <Screen title="Devices" back={["/setup", "Set-up"]} wide>
      <div class="columns">
        <Invite devices={inside} onTick={refresh} />
        <div class="stack">
          <Panel title="Joined">
            {devices && inside.length === 0 && <p>None yet. The machine that runs the server needs no code.</p>}
            {!devices && !complaint && <p role="status">Asking the server …</p>}
            <ul class="items">
              {inside.map((device) => (
                <DeviceItem key={device.id} device={device} onChange={refresh} />
              ))}
            </ul>
            <Failed what="The list is not up to date" complaint={complaint} />
          </Panel>
          {revoked.length > 0 && (
            <details class="panel">
              <summary>{count(revoked.length, "device")} taken off the list</summary>
              <ul class="items">
                {revoked.map((device) => (
                  <li key={device.id}>
                    <strong>{device.name}</strong>
                    <p class="small quiet">Taken off the list {when(device.revoked_ms ?? 0)}. What it had sent stays in the journal.</p>
                  </li>
                ))}
              </ul>
            </details>
          )}
        </div>
      </div>
    </Screen>
  );
}

const againMS = 15_000;

/** The list from the server, fresh every now and then; the last one stays while it cannot be reached. */
function useDevices() {
  const found = useSignal<{ devices: Device[] | null; complaint: Complaint | null }>({ devices: null, complaint: null });
  const current = useRef(true);
  const refresh = () =>
    listDevices().then(
      (devices) => current.current && (found.value = { devices, complaint: null }),
      (error) => current.current && (found.value = { ...found.value, complaint: complaintOf(error) }),
    );
  useEffect(() => {
    if (role.value === "crew" || tier.value === "plain") return;
    current.current = true;
    void refresh();
    const timer = setInterval(refresh, againMS);
    return () => {
      current.current = false;
      clearInterval(timer);
    };
  }, [role.value]);
  return { ...found.value, refresh };
}

function DeviceItem({ device, onChange }: { device: Device; onChange: () => Promise<unknown> }) {
  const name = useSignal(device.name);
  const chosen = useSignal<Role | null>(null); // until the server has answered
  const asked = useSignal(false);
  const act = useAction();
  const change = (what: Parameters<typeof changeDevice>[1], said: string) =>
    act.run(async () => {
      await changeDevice(device.id, what);
      say(said);
      await onChange();
    });
  const own = device.id === membership.value?.id;
  return (
    <li>
      <p>
        <strong>{device.name}</strong>
        {own && " (this device)"}
        {device.server && " (another server)"} · {roleWord[device.role].name}
      </p>
      <p class="small quiet">
        {device.seen_ms > 0 ? `Last seen ${when(device.seen_ms)}` : `Joined ${when(device.joined_ms)}, not seen since`}
        {device.unsent >= 0 && `, ${device.unsent === 0 ? "all sent" : `${device.unsent} unsent`} by its own word`}
      </p>
      <details onToggle={(e) => !e.currentTarget.open && (asked.value = false)}>
        <summary>
          Change<span class="unseen"> {device.name}</span>
        </summary>
        <div class="stack">
          <div class="row">
            <TextField name={`name-${device.id}`} label="Name" text={name.value} most={MOST_NAME} onText={(text) => (name.value = text)} />
            <button
              type="button"
              class="button small"
              aria-disabled={act.busy.value || name.value.trim() === "" || name.value.trim() === device.name}
              onClick={() => {
                if (name.value.trim() !== "" && !tooLong(name.value, MOST_NAME)) void change({ name: name.value.trim() }, "Renamed");
              }}
            >
              Rename
            </button>
          </div>
          <Choice<Role>
            legend="Role"
            name={`role-${device.id}`}
            options={[
              ["crew", roleWord.crew.name],
              ["lead", roleWord.lead.name],
            ]}
            value={chosen.value ?? device.role}
            onChoose={async (role) => {
              chosen.value = role;
              await change({ role }, `${device.name} is ${roleWord[role].name.toLowerCase()} now`);
              chosen.value = null;
            }}
          />
          {asked.value ? (
            <Notice warm live="alert">
              <strong>
                Take {device.name} off the list{own && ", which is this device"}?
              </strong>
              <p>
                {device.unsent > 0 && `It last reported ${count(device.unsent, "unsent entry", "unsent entries")}. `}
                It keeps what it has and can save it as a file, but sends and reads nothing until it joins anew.
              </p>
              <span class="row">
                <button type="button" class="button small" onClick={() => change({ revoked: true }, `${device.name} was taken off the list`)}>
                  Yes, take off
                </button>
                <button type="button" class="button small" onClick={() => (asked.value = false)}>
                  Keep
                </button>
              </span>
            </Notice>
          ) : (
            <button type="button" class="button" onClick={() => (asked.value = true)}>
              Take off the list
            </button>
          )}
          <Failed what="Not changed" complaint={act.failed.value} />
        </div>
      </details>
    </li>
  );
}
