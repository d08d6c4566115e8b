// Marks what the server has not confirmed.
import { unsentIds } from "../data/status";
import { Icon } from "./icon";

/** Nothing where all of these entries are on the server. */
export function UnsentTag({ ids }: { ids: string[] }) {
  if (!ids.some((id) => unsentIds.value.has(id))) return null;
  return (
    <>
      {" "}
      <span class="tag">
        <Icon name="up" />
        unsent
      </span>
    </>
  );
}
