// An invitation: a code as square and as characters, counted down.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import type { Device } from "../data/api";
import { invite, type Invitation } from "../data/devices";
import { clockOffsetMS, type Role, welcomePage } from "../data/status";
import { useAction } from "../ui/action";
import { Choice } from "../ui/fields";
import { later } from "../ui/later";
import { Failed, Notice } from "../ui/notice";
import { roleWord } from "../ui/rolewords";
import { Panel } from "../ui/screen";

const QR = later(async () => (await import("../ui/qr")).QR);

const tickMS = 1000;
const lookMS = 3000; // between looks for the new device

interface Props {
  devices: Device[];
  onTick: () => void; // look whether somebody has joined
}

export function Invite({ devices, onTick }: Props) {
  const role = useSignal<Role>("crew");
  const open = useSignal<Invitation | null>(null);
  const before = useRef<Set<string>>(new Set());
  const act = useAction();
  const leftMS = useLeft(open.value);
  const make = () =>
    act.run(async () => {
      before.current = new Set(devices.map((device) => device.id));
      open.value = await invite(role.value);
    });
  const waiting = open.value !== null && leftMS > 0;
  useEffect(() => {
    if (!waiting) return;
    const timer = setInterval(onTick, lookMS);
    return () => clearInterval(timer);
  }, [waiting]);
  const joined = open.value && devices.find((device) => !before.current.has(device.id));
  return (
    <Panel title="Invite a device">
      <div role="status" class="stack">
        {joined && (
          <Notice>
            <strong>{joined.name} has joined.</strong>
          </Notice>
        )}
        {open.value && !joined && !waiting && (
          <Notice warm>
            <strong>The code has run out.</strong>
          </Notice>
        )}
      </div>
      {waiting && !joined && open.value ? (
        <Shown invitation={open.value} leftMS={leftMS} />
      ) : (
        <>
          <Choice<Role>
            legend="It may"
            name="invite-role"
            options={[
              ["crew", roleWord.crew.name],
              ["lead", roleWord.lead.name],
            ]}
            value={role.value}
            onChoose={(chosen) => (role.value = chosen)}
          />
          <p class="small quiet">{roleWord[role.value].may}</p>
        </>
      )}
      <button type="button" class={waiting && !joined ? "button" : "button main"} onClick={make} aria-disabled={act.busy.value}>
        {open.value ? "New code" : "Show a code"}
      </button>
      <Failed what="No code" complaint={act.failed.value} />
    </Panel>
  );
}

function Shown({ invitation, leftMS }: { invitation: Invitation; leftMS: number }) {
  const address = invitation.url.slice(0, invitation.url.indexOf("#"));
  return (
    <>
      <QR text={invitation.url} />
      <p class="big-code invitation">{invitation.code}</p>
      <p class="center">
        Lasts <strong role="timer">{clock(leftMS)}</strong>
        {invitation.role === "lead" && ", for a lead"}
      </p>
      <p>On the other device, on this network, one of both:</p>
      <ul class="bullets">
        <li>scan the square with its camera, or</li>
        <li>
          open <strong class="address">{address}</strong> and type the code.
        </li>
      </ul>
      {welcomePage.value && (
        <p class="small quiet">
          If its browser warns of the certificate, first open <span class="address">{welcomePage.value}</span> on it: the server's welcome
          page shows how to trust it.
        </p>
      )}
      <p class="small quiet">One code lets one device in. Show it only to who should join.</p>
    </>
  );
}

/** How long the code lasts, by the server's clock, ms; 0 when it has run out. */
function useLeft(invitation: Invitation | null): number {
  const now = useSignal(Date.now());
  useEffect(() => {
    now.value = Date.now();
    if (!invitation) return;
    const timer = setInterval(() => (now.value = Date.now()), tickMS);
    return () => clearInterval(timer);
  }, [invitation]);
  return invitation ? Math.max(0, invitation.expires_ms - now.value - (clockOffsetMS.value ?? 0)) : 0;
}

/** "9:05" */
function clock(ms: number): string {
  const seconds = Math.ceil(ms / 1000);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}
