// The exchange with another server: whether it goes on, and what is still to come.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { barred } from "../data/access";
import { loadUpstream, type UpstreamStatus } from "../data/upstream";
import { Facts } from "../ui/facts";
import { count } from "../ui/format";
import { complaintOf, Failed, Notice, sentence, type Complaint } from "../ui/notice";
import { Panel } from "../ui/screen";
import { heldWords, mostHeld, upstreamFacts } from "./upstreamwords";

/** A panel where our server exchanges with another one; else nothing. */
export function Upstream() {
  const { status, complaint } = useUpstream();
  if (!status) return null;
  const more = status.held_back_total - Math.min(status.held_back.length, mostHeld);
  return (
    <Panel title="The other server">
      {status.problem && (
        <Notice warm>
          <strong>The exchange is held up: {status.problem.text}.</strong>
          {status.problem.hint && <p>{sentence(status.problem.hint)}</p>}
        </Notice>
      )}
      <p>The team's server exchanges all entries with another one, in both directions.</p>
      <Facts list={upstreamFacts(status)} />
      {status.held_back_total > 0 && (
        <details>
          <summary>{count(status.held_back_total, "entry", "entries")} held back</summary>
          <p>One of the two servers will not take these. They stay where they are, and are tried again after an update.</p>
          <ul class="items">
            {status.held_back.slice(0, mostHeld).map((held) => (
              <li key={held.way + held.id}>
                <p>{heldWords(held)}</p>
                <p class="small quiet id">{held.id}</p>
              </li>
            ))}
          </ul>
          {more > 0 && <p>And {count(more, "other")}.</p>}
        </details>
      )}
      <Failed what="This is not up to date" complaint={complaint} />
    </Panel>
  );
}

const againMS = 10_000;

/** The state from the server, fresh every now and then; the last one stays while it cannot be reached. */
function useUpstream() {
  const found = useSignal<{ status: UpstreamStatus | null; complaint: Complaint | null }>({ status: null, complaint: null });
  const out = barred();
  useEffect(() => {
    if (out) return;
    let current = true;
    const refresh = () =>
      loadUpstream().then(
        (status) => current && (found.value = { status, complaint: null }),
        (error) => current && (found.value = { ...found.value, complaint: complaintOf(error) }),
      );
    void refresh();
    const timer = setInterval(refresh, againMS);
    return () => {
      current = false;
      clearInterval(timer);
    };
  }, [out]);
  return found.value;
}
