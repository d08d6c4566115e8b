// A pack's state as the core folds it, fresh after every new entry.
import { loadPack, overview, revision } from "../data/fleet";
import { useAnswer } from "../ui/answer";
import type { Complaint } from "../ui/notice";
import type { Pack, Team } from "./model";

export function usePack(code: string): { pack: Pack | null; complaint: Complaint | null } {
  const { answer: pack, complaint } = useAnswer(() => loadPack(code), [code, revision.value]);
  // After a change of code the old pack must not be taken for the new one.
  return pack && pack.code !== code ? { pack: null, complaint: null } : { pack, complaint };
}

export function useTeam(): Team | null {
  return overview.value?.team ?? null;
}
