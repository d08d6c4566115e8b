// An address that leads nowhere.
import { Screen } from "../ui/screen";

export function Nowhere() {
  return (
    <Screen title="Nothing here" back={["/", "Packs"]}>
      <p>This address leads to no screen. A label's address ends in /P/ and the six characters of its code.</p>
      <a class="button" href="/scan">
        Scan or type a code
      </a>
    </Screen>
  );
}
