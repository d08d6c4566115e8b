// The way out of plain http: what this browser keeps, as links to the encrypted
// address of the same server.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { encryptedOrigin, handedOver, linksTo, originIn, waiting } from "../data/handover";
import { ready, tier, unsentIds } from "../data/status";
import { useAction } from "../ui/action";
import { useAnswer } from "../ui/answer";
import { saveExport } from "../ui/export";
import { TextField } from "../ui/fields";
import { count } from "../ui/format";
import { Failed, Notice } from "../ui/notice";
import { Panel, Screen } from "../ui/screen";
import { say } from "../ui/toast";
import { Unopened } from "../ui/unopened";

export function HandOver() {
  const { answer, complaint } = useAnswer(waiting, [unsentIds.value]);
  const entries = answer ?? []; // oldest first
  const address = useAddress();
  const opened = useSignal<ReadonlySet<number>>(new Set());
  const act = useAction();
  const exporting = useAction();
  const origin = originIn(address.value);
  const links = entries.length > 0 && origin ? linksTo(origin, entries) : [];
  const arrived = () =>
    act.run(async () => {
      await handedOver(entries);
      opened.value = new Set();
      say("Noted: nothing waits here any more");
    });
  return (
    <Screen title="Hand over readings" back={["/", "Packs"]}>
      {ready.value !== "ready" && <Unopened />}
      {tier.value !== "plain" && (
        <Notice>This page is not on plain http: what is unsent here is sent by itself. Handing over is for browsers that cannot send.</Notice>
      )}
      <p>
        <strong>{entries.length > 0 ? `${count(entries.length, "entry", "entries")} kept in this browser only.` : "Nothing waits here."}</strong>{" "}
        {entries.length > 0 && "Over plain http anybody on the network could read along, so nothing is sent from here."}
      </p>
      <Failed what="They cannot be read" complaint={complaint} />
      {entries.length > 0 && (
        <>
          <Panel title="1. Open them at the encrypted address">
            <TextField
              name="address"
              label="Encrypted address of the server"
              type="url"
              help="As the server's machine shows it; it begins with https://"
              autocapitalize="none"
              text={address.value}
              complaint={address.value.trim() !== "" && !origin ? { text: "that is no https address", hint: "such as https://pit.local:8443" } : undefined}
              onText={(text) => (address.value = text)}
            />
            {links.map((link, i) => (
              <a
                key={i}
                class={opened.value.has(i) ? "button" : "button main"}
                href={link}
                target="_blank"
                rel="noopener noreferrer"
                onClick={() => (opened.value = new Set([...opened.value, i]))}
              >
                {links.length === 1 ? "Hand over" : `Hand over part ${i + 1} of ${links.length}`}
                {opened.value.has(i) && " once more"}
              </a>
            ))}
            <p class="small quiet">
              The browser may warn of the certificate there: the server's welcome page says how to check and trust it. The readings travel within
              this device only.
            </p>
            <p>There they wait until this device trusts the server and has joined: only then they go to it.</p>
          </Panel>
          <Panel title="2. Say when they have arrived">
            <p>They stay here until you say so, and can be handed over twice without harm.</p>
            {links.length > 0 && opened.value.size >= links.length ? (
              <>
                <p>Did the page that opened say “stored on this device now”? If not, go back to it and keep them there first.</p>
                <button type="button" class="button" onClick={arrived} aria-disabled={act.busy.value}>
                  They have arrived
                </button>
              </>
            ) : (
              <p class="small quiet">You are asked here once {links.length > 1 ? "every part was" : "they were"} opened there.</p>
            )}
            <Failed what="Not noted" complaint={act.failed.value} />
          </Panel>
          <Panel title="Or as a file">
            <p>
              For a lead, who reads it in under Set-up, Read a saved journal: where this device will neither trust the server nor join. Give it by
              cable, stick or message.
            </p>
            <button type="button" class="button" onClick={() => exporting.run(saveExport)} aria-disabled={exporting.busy.value}>
              Save as file
            </button>
            <Failed what="Not exported" complaint={exporting.failed.value} />
          </Panel>
        </>
      )}
    </Screen>
  );
}

/** The encrypted address: the server's word, or the usual one under this name. */
function useAddress() {
  const address = useSignal(`https://${location.hostname}:8443`);
  useEffect(() => {
    const guess = address.value;
    void encryptedOrigin().then((origin) => {
      if (origin && address.value === guess) address.value = origin;
    });
  }, []);
  return address;
}
