// A pack's state as the core folds it, fresh after every new entry.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { loadPack, overview, revision } from "../data/fleet";
import { complaintOf, type Complaint } from "../ui/notice";
import type { Pack, Team } from "./model";

interface PackData {
  pack: Pack | null;
  complaint: Complaint | null;
}

export function usePack(code: string): PackData {
  const data = useSignal<PackData>({ pack: null, complaint: null });
  const at = revision.value;
  useEffect(() => {
    let current = true;
    loadPack(code).then(
      (pack) => current && (data.value = { pack, complaint: null }),
      (error) => current && (data.value = { pack: null, complaint: complaintOf(error) }),
    );
    return () => {
      current = false;
    };
  }, [code, at]);
  // After a change of code the old pack must not be taken for the new one.
  return data.value.pack && data.value.pack.code !== code ? { pack: null, complaint: null } : data.value;
}

export function useTeam(): Team | null {
  return overview.value?.team ?? null;
}
