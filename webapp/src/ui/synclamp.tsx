// What is not yet on the server, always in sight; leads to the list.
import { access, reachable, ready, refused, syncing, syncProblem, tier, tooOld, unsent } from "../data/status";
import { Icon, type IconName } from "./icon";

function state(): [IconName, string, boolean] {
  if (ready.value === "starting") return ["info", "Starting", false];
  if (ready.value === "failed") return ["alert", "No journal", true];
  if (refused.value.length > 0) return ["alert", `${refused.value.length} refused`, true];
  if (tier.value === "plain") return ["offline", unsent.value > 0 ? `${unsent.value} kept here` : "No sync here", true];
  if (access.value === "signed-out") return ["alert", unsent.value > 0 ? `${unsent.value} unsent, taken off the list` : "Taken off the list", true];
  if (access.value === "stranger") return ["alert", "Not joined", true];
  if (tooOld.value) return ["alert", "Update the app", true];
  if (syncProblem.value) return ["alert", "Not syncing", true];
  if (unsent.value > 0) return ["up", `${unsent.value} unsent`, true];
  if (syncing.value) return ["up", "Syncing", false];
  if (reachable.value === false) return ["offline", "No server", false];
  return ["done", "All sent", false];
}

export function SyncLamp() {
  const [icon, word, warm] = state();
  return (
    <a class={warm ? "lamp warm" : "lamp"} href="/unsent">
      <Icon name={icon} />
      <span role="status">{word}</span>
    </a>
  );
}
