// What is not on the server: waiting, or refused and why.
import { useSignal } from "@preact/signals";
import { type ComponentChildren } from "preact";
import type { Entry } from "../core/types";
import { barred } from "../data/access";
import { discard } from "../data/discard";
import { overview } from "../data/fleet";
import { access, lastSync, reachable, ready, refused, signedOut, syncing, syncProblem, tier, tooOld, unsent, unsentIds } from "../data/status";
import { store } from "../data/store";
import { sendAgain, syncNow } from "../data/sync";
import { applyUpdate } from "../data/update";
import { useAction } from "../ui/action";
import { useAnswer } from "../ui/answer";
import { saveExport } from "../ui/export";
import { count, kindOf, when } from "../ui/format";
import { Failed, Notice, sentence } from "../ui/notice";
import { Panel, Screen } from "../ui/screen";
import { say } from "../ui/toast";
import { Unopened } from "../ui/unopened";

export function Unsent() {
  if (ready.value !== "ready") {
    return (
      <Screen title="Unsent and refused" back={["/", "Packs"]}>
        <Unopened />
      </Screen>
    );
  }
  return <Lists />;
}

function Lists() {
  const exporting = useAction();
  const waiting = unsent.value - refused.value.length;
  return (
    <Screen
      title="Unsent and refused"
      back={["/", "Packs"]}
      dock={
        <>
          <button type="button" class="button" onClick={() => exporting.run(saveExport)} aria-disabled={exporting.busy.value}>
            Save as file
          </button>
          <MainAction />
        </>
      }
    >
      <div role="status" class="stack">
        <p>
          <strong>{waiting > 0 ? `${count(waiting, "entry", "entries")} not yet on the server.` : "Nothing waits to be sent."}</strong>{" "}
          {waiting > 0 && `${waiting === 1 ? "It is" : "They are"} safe on this device${barred() ? "." : " and sent as soon as the server is in reach."}`}
        </p>
        <p>
          Last sync: {lastSync.value === null ? "never" : when(lastSync.value)}.{" "}
          {reachable.value === false && "The server is not in reach now."}
        </p>
      </div>
      <Barred />
      {tooOld.value ? <TooOld /> : syncProblem.value && <Notice warm>{sentence(syncProblem.value)}</Notice>}
      <Failed what="Not exported" complaint={exporting.failed.value} />
      {refused.value.length > 0 && <Refused />}
      {waiting > 0 && <Waiting />}
    </Screen>
  );
}

function MainAction() {
  if (tier.value === "plain") {
    return (
      <a class="button main" href="/handover">
        Hand over
      </a>
    );
  }
  if (barred()) {
    return (
      <a class="button main" href="/join">
        Join
      </a>
    );
  }
  return (
    <button type="button" class="button main" onClick={() => void syncNow()} aria-disabled={syncing.value}>
      {syncing.value ? "Syncing …" : "Sync now"}
    </button>
  );
}

/** Why this device is not let in, and what to do. */
function Barred() {
  if (tier.value === "plain") return null; // the banner says it
  if (access.value === "stranger") {
    return (
      <Notice warm>
        <strong>This device has not joined the team's server.</strong>
        <p>Ask a lead for an invitation: a square to scan, or eight characters. Everything made here is kept until then.</p>
      </Notice>
    );
  }
  if (access.value === "signed-out") {
    return (
      <Notice warm>
        <strong>Taken off the list: the server lets this device in no more.</strong>
        <p>{sentence(signedOut.value || "ask a lead for a new invitation")}</p>
        <p>Nothing here is lost. The journal can also be saved as a file: a lead reads it in under Set-up, Read a saved journal.</p>
      </Notice>
    );
  }
  return null;
}

/** The server was updated and this app was not. */
function TooOld() {
  const update = useAction();
  return (
    <Notice warm>
      <strong>The server needs a newer version of this app.</strong>
      <p>Reload the app to update it. Everything here is kept, and is sent afterwards. If this still stands here then, wait a minute and reload once more.</p>
      <button type="button" class="button small" onClick={() => update.run(applyUpdate)}>
        Reload the app
      </button>
      <Failed what="Not reloaded" complaint={update.failed.value} />
    </Notice>
  );
}

function Refused() {
  const again = useAction();
  const send = () => again.run(() => sendAgain(refused.value.map(({ entry }) => entry.id)));
  return (
    <Panel title="Refused by the server">
      <p>
        These stay on this device and count here, and nowhere else. Save them as a file and show it to whoever looks after the server, or
        discard what was a mistake.
      </p>
      <ul class="items">
        {refused.value.map(({ entry, reason, hint }) => (
          <EntryLine key={entry.id} entry={entry} below={<Discard entry={entry} />}>
            <p>
              <strong>{sentence(reason)}</strong> {hint && sentence(hint)}
            </p>
          </EntryLine>
        ))}
      </ul>
      <button type="button" class="button" onClick={send} aria-disabled={again.busy.value}>
        Send again
      </button>
      <p class="small quiet">A server that was updated, or has room again, may take them.</p>
      <Failed what="Not sent again" complaint={again.failed.value} />
    </Panel>
  );
}

/** Gives one refused entry up, asked for twice. */
function Discard({ entry }: { entry: Entry }) {
  const asked = useSignal(false);
  const act = useAction();
  const what = kindOf(entry.kind);
  const go = () =>
    act.run(async () => {
      if (await discard(entry.id)) say(`Discarded: ${what}`);
    });
  if (!asked.value) {
    return (
      <>
        <button type="button" class="button small" onClick={() => (asked.value = true)}>
          Discard<span class="unseen"> {what}</span>
        </button>
        <Failed what="Not discarded" complaint={act.failed.value} />
      </>
    );
  }
  return (
    <Notice warm live="alert">
      <strong>Delete it from this device for good?</strong>
      <p>The server does not have it, and nothing brings it back. {discardWords(entry.kind)}</p>
      <span class="row">
        <button type="button" class="button small" onClick={go} aria-disabled={act.busy.value}>
          Yes, discard
        </button>
        <button type="button" class="button small" onClick={() => (asked.value = false)}>
          Keep
        </button>
      </span>
      <Failed what="Not discarded" complaint={act.failed.value} />
    </Notice>
  );
}

/** What becomes of that which the entry did here. */
function discardWords(kind: Entry["kind"]): string {
  if (kind === "team-changed") return "This device then shows the settings that the team has.";
  if (kind === "voided") return "What it had voided counts here again.";
  return "Save it as a file first if it may still be needed.";
}

const most = 50; // listed; all are counted

function Waiting() {
  const { answer, complaint } = useWaiting();
  const entries = answer ?? [];
  return (
    <Panel title="Waiting to be sent">
      <ul class="items">
        {entries.slice(0, most).map((entry) => (
          <EntryLine key={entry.id} entry={entry} />
        ))}
      </ul>
      {entries.length > most && <p>And {count(entries.length - most, "older entry", "older entries")}.</p>}
      <Failed what="The list cannot be read" complaint={complaint} />
    </Panel>
  );
}

/** The entries that wait, newest first. */
function useWaiting() {
  const held = unsentIds.value;
  return useAnswer(() => {
    const parked = new Set(refused.value.map(({ entry }) => entry.id));
    return store.entries([...held].filter((id) => !parked.has(id)).reverse());
  }, [held, refused.value]);
}

function EntryLine({ entry, below, children }: { entry: Entry; below?: ComponentChildren; children?: ComponentChildren }) {
  const name = overview.value?.packs.find((row) => row.code === entry.pack)?.name;
  return (
    <li>
      {children}
      <p>
        {kindOf(entry.kind)}
        {entry.pack && (
          <>
            {" · "}
            <a href={`/p/${entry.pack}`}>
              {name} <span class="code">{entry.pack}</span>
            </a>
          </>
        )}
      </p>
      <p class="small quiet">
        {when(Number.parseInt(entry.hlc)) /* it begins with unix ms */}
        {entry.by && ` · ${entry.by}`}
      </p>
      <p class="small quiet id">{entry.id}</p>
      {below}
    </li>
  );
}
