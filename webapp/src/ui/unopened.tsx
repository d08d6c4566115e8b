// In place of what the journal would show, while it is not open.
import { ready } from "../data/status";

export function Unopened() {
  return (
    <p role="status">
      {ready.value === "failed" ? "Nothing can be shown or saved here until the journal opens." : "Reading the journal on this device …"}
    </p>
  );
}
