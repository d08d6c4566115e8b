// Tables that were read in before; each can be undone as a whole.
import type { Import } from "../../core/types";
import { mayLead } from "../../data/rights";
import { restore, useAction, voidEntry } from "../../ui/action";
import { count, when } from "../../ui/format";
import { Failed } from "../../ui/notice";
import { Panel } from "../../ui/screen";
import { UnsentTag } from "../../ui/unsenttag";

export function Earlier({ imports }: { imports: Import[] }) {
  return (
    <Panel title="Read in before">
      {imports.length === 0 && <p>None yet.</p>}
      <ul class="items">
        {imports.map((one) => (
          <li key={one.entry}>
            <Line one={one} />
          </li>
        ))}
      </ul>
    </Panel>
  );
}

function Line({ one }: { one: Import }) {
  const act = useAction();
  const about = <span class="unseen"> {one.file}</span>;
  const short = !one.voided && one.tests < one.rows;
  return (
    <>
      <p class={one.voided ? "struck address" : "address"}>
        <strong>{one.file}</strong>, {count(one.rows, "test")} <UnsentTag ids={[one.entry]} />
      </p>
      <p class="small quiet">
        {when(one.at_ms)}
        {one.by && ` · ${one.by}`}
        {one.voided && " · undone"}
      </p>
      {short && (
        <p class="small">
          {one.tests} of {one.rows} count: the others were voided, or are not on this device. Where saving was broken off, undo this and read the
          file in again.
        </p>
      )}
      <div class="row">
        {!mayLead() ? null : one.voided ? (
          <button type="button" class="link" onClick={() => act.run(() => restore("", one.voided_by ?? ""))}>
            Bring back{about}
          </button>
        ) : (
          <button type="button" class="link" onClick={() => act.run(() => voidEntry("", one.entry, "All its tests undone"))}>
            Undo all of it{about}
          </button>
        )}
      </div>
      <Failed what="Not saved" complaint={act.failed.value} />
    </>
  );
}
