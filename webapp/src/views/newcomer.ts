// A pack that this browser does not know, and may well be the team's.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { call } from "../core/bridge";

/** Whether a code that no pack here has is a good one all the same: its check character fits. Null while the core looks. */
export function useNewcomer(code: string, missing: boolean): boolean | null {
  const good = useSignal<boolean | null>(null);
  useEffect(() => {
    let current = true;
    good.value = null;
    if (missing) {
      call("read-code", { text: code }).then(
        (answer) => current && (good.value = answer.code === code && !answer.known),
        () => current && (good.value = false),
      );
    }
    return () => {
      current = false;
    };
  }, [code, missing]);
  return good.value;
}
