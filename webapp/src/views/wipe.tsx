// Deleting everything of packwright in this browser, asked for twice.
import { signal, useSignal } from "@preact/signals";
import { access, membership, ready, unsent } from "../data/status";
import { wipe } from "../data/wipe";
import { useAction } from "../ui/action";
import { saveExport } from "../ui/export";
import { Check } from "../ui/fields";
import { count } from "../ui/format";
import { Failed, Notice, sentence } from "../ui/notice";
import { Panel, Screen, useTitle } from "../ui/screen";
import { CertificateWords } from "./certificate";

/** What could not be deleted; null until it was tried. */
const leftovers = signal<string[] | null>(null);

export function Wipe() {
  const sure = useSignal(false);
  const asked = useSignal(false);
  const act = useAction();
  const exporting = useAction();
  const known = ready.value === "ready";
  const lost = known ? unsent.value : 0;
  const go = () =>
    act.run(async () => {
      leftovers.value = await wipe();
    });
  return (
    <Screen title="Wipe this device" back={["/setup/stored", "What is stored"]}>
      <p>
        This deletes the journal on this device, half-filled forms, your initials and settings, and the app's files
        {membership.value && access.value !== "signed-out" && ", and takes this device off the server's list of those let in"}. What the server
        has stays there, with the initials on each entry.
      </p>
      <CertificateWords />
      {!known && <Notice warm>The journal is not open, so nobody can say whether entries here are unsent.</Notice>}
      {lost > 0 ? (
        <Notice warm>
          <strong>{count(lost, "entry is", "entries are")} not on the server and would be lost for good.</strong>
          <button type="button" class="button small" onClick={() => exporting.run(saveExport)} aria-disabled={exporting.busy.value}>
            Save as file first
          </button>
        </Notice>
      ) : (
        known && <p>Nothing is unsent.</p>
      )}
      <Failed what="Not exported" complaint={exporting.failed.value} />
      <Panel title="Are you sure?">
        <Check
          name="sure"
          label={lost > 0 ? `Delete everything here, ${count(lost, "unsent entry", "unsent entries")} too` : "Delete everything here"}
          checked={sure.value}
          onChange={(on) => {
            sure.value = on;
            asked.value = false;
          }}
        />
        {asked.value && sure.value ? (
          <Notice warm live="alert">
            <strong>It cannot be undone.</strong>
            <span class="row">
              <button type="button" class="button small" onClick={go} aria-disabled={act.busy.value}>
                {act.busy.value ? "Wiping …" : "Wipe now"}
              </button>
              <button type="button" class="button small" onClick={() => (asked.value = false)}>
                Keep all
              </button>
            </span>
          </Notice>
        ) : (
          <button type="button" class="button" aria-disabled={!sure.value} onClick={() => (asked.value = sure.value)}>
            Wipe this device
          </button>
        )}
      </Panel>
      {membership.value && (
        <p class="small quiet">Joined as {membership.value.name}. To come back, this device needs a new invitation.</p>
      )}
      <Failed what="Not wiped" complaint={act.failed.value} />
    </Screen>
  );
}

/** The end of the app in this browser, in every open tab. */
export function Wiped() {
  useTitle("Wiped");
  const left = leftovers.value;
  const act = useAction();
  return (
    <main class="sheet">
      <h1>{left?.length ? "Not all of it is gone" : "Wiped"}</h1>
      <div role="status" class="stack">
        {left === null && <p>Another tab deletes everything that packwright kept in this browser. Close this tab.</p>}
        {left?.length === 0 && <p>Nothing of packwright is left in this browser. Close this tab; opening the address again starts afresh.</p>}
        <CertificateWords />
        {left?.map((fault) => (
          <Notice warm key={fault}>
            {sentence(fault)}
          </Notice>
        ))}
      </div>
      {left && left.length > 0 && (
        <button
          type="button"
          class="button main"
          aria-disabled={act.busy.value}
          onClick={() => act.run(async () => void (leftovers.value = await wipe()))}
        >
          Try again
        </button>
      )}
    </main>
  );
}
