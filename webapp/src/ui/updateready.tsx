// A new version of the app waits: it starts when the person says so.
import { applyUpdate } from "../data/update";
import { useAction } from "./action";
import { Failed, Notice } from "./notice";

export function UpdateReady({ onLater }: { onLater?: () => void }) {
  const update = useAction();
  return (
    <Notice>
      <strong>A new version is ready.</strong>
      <p>What you have typed is kept.</p>
      <span class="row">
        <button type="button" class="button small" onClick={() => update.run(applyUpdate)}>
          Reload now
        </button>
        {onLater && (
          <button type="button" class="button small" onClick={onLater}>
            Later
          </button>
        )}
      </span>
      <Failed what="Not reloaded" complaint={update.failed.value} />
    </Notice>
  );
}
