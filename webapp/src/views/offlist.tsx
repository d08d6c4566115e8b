// What it means for a device that a lead took it off the list of those let in.
import { unsent } from "../data/status";
import { count } from "../ui/format";
import { Notice } from "../ui/notice";

/** What happened and what to do, in short. */
export function OffList() {
  return (
    <Notice warm>
      <strong>This device was taken off the team's list.</strong>
      <p>
        {unsent.value > 0 ? `${count(unsent.value, "entry stays", "entries stay")} here unsent` : "Nothing is sent or fetched any more"}: ask a lead for
        a new invitation, then <a href="/join">join again</a>.
      </p>
    </Notice>
  );
}
