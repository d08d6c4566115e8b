// What the history of a pack says, fresh after every new entry.
import { call } from "../../core/bridge";
import { revision } from "../../data/fleet";
import { bestNowMS } from "../../data/status";
import { useAnswer } from "../../ui/answer";
import type { Complaint } from "../../ui/notice";
import type { Health } from "../model";

export function useHealth(code: string): { health: Health | null; complaint: Complaint | null } {
  const { answer: health, complaint } = useAnswer(() => call("health", { code, now_ms: bestNowMS() }), [code, revision.value]);
  return health && health.code !== code ? { health: null, complaint: null } : { health, complaint };
}
