// Says that a form was found half filled, and offers to start afresh.
import { Notice } from "./notice";

export function Restored({ shown, onDrop }: { shown: boolean; onDrop: () => void }) {
  if (!shown) return null;
  return (
    <Notice live="status">
      <p>You left this half filled. It is as it was.</p>
      <button type="button" class="button small" onClick={onDrop}>
        Start afresh
      </button>
    </Notice>
  );
}
