// What the history of a pack says, fresh after every new entry.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { call } from "../../core/bridge";
import { revision } from "../../data/fleet";
import { bestNowMS } from "../../data/status";
import { complaintOf, type Complaint } from "../../ui/notice";
import type { Health } from "../model";

export function useHealth(code: string): { health: Health | null; complaint: Complaint | null } {
  const found = useSignal<{ health: Health | null; complaint: Complaint | null }>({ health: null, complaint: null });
  const at = revision.value;
  useEffect(() => {
    let current = true;
    call("health", { code, now_ms: bestNowMS() }).then(
      (health) => current && (found.value = { health, complaint: null }),
      (error) => current && (found.value = { health: null, complaint: complaintOf(error) }),
    );
    return () => {
      current = false;
    };
  }, [code, at]);
  return found.value.health && found.value.health.code !== code ? { health: null, complaint: null } : found.value;
}
