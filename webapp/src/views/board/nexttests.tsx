// Which pack to test next, and why.
import { useSignal } from "@preact/signals";
import type { ToTest } from "../../core/types";
import { capital } from "../../ui/format";
import { Icon } from "../../ui/icon";
import { Panel } from "../../ui/screen";

export function NextTests({ list, shown }: { list: ToTest[]; shown: number }) {
  const all = useSignal(false);
  const lines = all.value ? list : list.slice(0, shown);
  return (
    <Panel title="Test next">
      {list.length === 0 && <p>No test is called for.</p>}
      <ol class="items">
        {lines.map((line, i) => (
          <li key={line.code}>
            <a class="item-link" href={`/p/${line.code}/test`}>
              <strong>{i + 1}.</strong>
              <span>
                <span class="name">
                  <strong>{line.name || "No name"}</strong> <span class="code quiet">{line.code}</span>
                </span>
                <br />
                <span class="small">{capital(line.why.join("; "))}</span>
              </span>
              <Icon name="next" />
            </a>
          </li>
        ))}
      </ol>
      {list.length > shown && (
        <button type="button" class="button small" onClick={() => (all.value = !all.value)} aria-expanded={all.value}>
          {all.value ? "Only the first" : `All ${list.length}`}
        </button>
      )}
    </Panel>
  );
}
