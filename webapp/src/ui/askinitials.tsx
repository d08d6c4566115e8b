// Asks for the initials on the first form of the day, on a phone that has none.
import { useSignal } from "@preact/signals";
import { MOST_INITIALS, prefs, setPref } from "../data/prefs";
import { useAction } from "./action";
import { TextField, tooLong } from "./fields";
import { Failed, Notice } from "./notice";

export function AskInitials() {
  const initials = useSignal("");
  const act = useAction();
  const today = new Date().toDateString();
  if (prefs.value.initials || prefs.value.unasked === today) return null;
  const keep = () => {
    const text = initials.value.trim();
    if (text && !tooLong(text, MOST_INITIALS)) void act.run(() => setPref("initials", text));
  };
  return (
    <Notice>
      <TextField
        name="initials"
        label="Your initials"
        help="They stand beside what you save on this device. No full names."
        most={MOST_INITIALS}
        text={initials.value}
        autocapitalize="characters"
        onText={(text) => (initials.value = text)}
      />
      <div class="row">
        <button type="button" class="button small" onClick={keep}>
          Use these initials
        </button>
        <button type="button" class="button small" onClick={() => void act.run(() => setPref("unasked", today))}>
          Not today
        </button>
      </div>
      <Failed what="Not kept" complaint={act.failed.value} />
    </Notice>
  );
}
