// Entries that come over from another address of the same server: looked
// through, shown, and stored only when the person says so.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { barred } from "../data/access";
import { carried, lookThrough, take, type Carried } from "../data/handover";
import { ready, tier } from "../data/status";
import { useAction } from "../ui/action";
import { count, kindOf, when } from "../ui/format";
import { complaintOf, Failed, Notice, sentence, type Complaint } from "../ui/notice";
import { Panel, Screen } from "../ui/screen";
import { Unopened } from "../ui/unopened";

export function Take() {
  const { found, complaint } = useCarried();
  const act = useAction();
  const taken = useSignal<number | null>(null);
  const keep = () =>
    act.run(async () => {
      if (!found) return;
      taken.value = await take(found.good);
      history.replaceState(null, "", "/take");
    });
  if (ready.value !== "ready") {
    return (
      <Screen title="Take over readings" back={["/", "Packs"]}>
        <Unopened />
      </Screen>
    );
  }
  if (taken.value !== null && found) return <Taken added={taken.value} known={found.good.length - taken.value} left={found.bad.length} />;
  const good = found?.good ?? [];
  return (
    <Screen
      title="Take over readings"
      back={["/", "Packs"]}
      dock={
        good.length > 0 && (
          <button type="button" class="button main" onClick={keep} aria-disabled={act.busy.value}>
            Keep {count(good.length, "entry", "entries")} here
          </button>
        )
      }
    >
      {tier.value === "plain" && (
        <Notice warm>
          <strong>This is the address without encryption.</strong>
          <p>Readings are handed over to the https address.</p>
        </Notice>
      )}
      <Failed what="Nothing to take over" complaint={complaint} />
      {found && good.length > 0 && (
        <p>
          This link carries <strong>{count(good.length, "entry", "entries")}</strong> from another browser page. Keep them if they are yours or
          your team's: they are stored here and sent from here.
        </p>
      )}
      {good.length > 0 && (
        <Panel title="To keep">
          <ul class="items">
            {good.map((entry) => (
              <li key={entry.id}>
                <p>
                  {kindOf(entry.kind)}
                  {entry.pack && (
                    <>
                      {" · "}
                      <span class="code">{entry.pack}</span>
                    </>
                  )}
                </p>
                <p class="small quiet">
                  {when(Number.parseInt(entry.hlc)) /* it begins with unix ms */}
                  {entry.by && ` · ${entry.by}`}
                </p>
              </li>
            ))}
          </ul>
        </Panel>
      )}
      {found && found.bad.length > 0 && (
        <Panel title="Not taken over">
          <p>These stay on the page they come from.</p>
          <ul class="items">
            {found.bad.map(({ what, reason, hint }, i) => (
              <li key={i}>
                <p>
                  {what && `${kindOf(what)}: `}
                  <strong>{sentence(reason)}</strong> {hint && sentence(hint)}
                </p>
              </li>
            ))}
          </ul>
        </Panel>
      )}
      <Failed show what="Not stored" complaint={act.failed.value} />
    </Screen>
  );
}

function Taken({ added, known, left }: { added: number; known: number; left: number }) {
  return (
    <Screen
      title="Taken over"
      back={["/", "Packs"]}
      dock={
        <a class="button main" href="/">
          To the packs
        </a>
      }
    >
      <div role="status" class="stack">
        <p>
          <strong>
            {added > 0 ? `${count(added, "entry is", "entries are")} stored on this device now.` : "Nothing new: all of them were here already."}
          </strong>{" "}
          {added > 0 && known > 0 && `${known} more ${known === 1 ? "was" : "were"} here already.`}
        </p>
        <p>
          Go back to the page they came from and say there that they have arrived
          {left > 0 && `; the ${left} not taken over stay there`}.
        </p>
      </div>
      {barred() && (
        <Notice>
          <p>
            They are sent to the server once this device has joined. <a href="/join">Join</a>
          </p>
        </Notice>
      )}
    </Screen>
  );
}

/** What the address carries behind its #, looked through by the core. */
function useCarried() {
  const state = useSignal<{ found: Carried | null; complaint: Complaint | null }>({ found: null, complaint: null });
  useEffect(() => {
    let latest = 0;
    const read = () => {
      const mine = ++latest;
      const set = (found: Carried | null, complaint: Complaint | null) => mine === latest && (state.value = { found, complaint });
      Promise.resolve()
        .then(() => lookThrough(carried(location.hash)))
        .then((found) => set(found, null), (error) => set(null, complaintOf(error)));
    };
    read();
    addEventListener("hashchange", read);
    return () => {
      latest = -1;
      removeEventListener("hashchange", read);
    };
  }, []);
  return state.value;
}
