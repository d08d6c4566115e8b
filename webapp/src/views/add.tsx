// Add a pack: with a fresh code, or with one scanned from a label.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { call, Problem } from "../core/bridge";
import { dropDraft, loadDraft, saveDraft } from "../data/drafts";
import { record } from "../data/journal";
import { bestNowMS } from "../data/status";
import { go } from "../router";
import { useAction } from "../ui/action";
import { AskInitials } from "../ui/askinitials";
import { useDraft } from "../ui/draft";
import { inServiceComplaint, readNumbers, useComplaints, type Texts } from "../ui/form";
import { Failed, Notice, complaintOf, type Complaint } from "../ui/notice";
import { Restored } from "../ui/restored";
import { Screen } from "../ui/screen";
import { say } from "../ui/toast";
import { newProfile, ProfileFields, profileNumbers } from "./profileform";

export function Add({ code: scanned }: { code: string }) {
  const draft = useDraft<Texts>(scanned ? `add:${scanned}` : "add", newProfile);
  const { show, place, field } = useComplaints();
  const save = useAction();
  const code = useNewCode(scanned);
  const texts = draft.value.value;
  const add = () =>
    save.run(async () => {
      if (!texts || !code.code) return;
      const read = await readNumbers(profileNumbers, texts);
      if ((texts.name ?? "").trim() === "")
        read.complaints.name = { text: "the pack needs a name", hint: "write what stands on it, or will" };
      const early = inServiceComplaint(texts.in_service ?? "", bestNowMS());
      if (early) read.complaints.in_service = early;
      if (show(read.complaints)) return;
      if ((await call("read-code", { text: code.code })).known) {
        throw new Problem("conflict", `there is a pack ${code.code} by now`, "reload this screen to give this one a new code");
      }
      const body = { name: texts.name?.trim(), ...read.numbers, ...given("in_service", texts), ...given("connector", texts) };
      await record("pack-added", code.code, body);
      await draft.drop();
      if (!scanned) await dropDraft(codeKey);
      say(`${texts.name?.trim()} added`);
      go(`/p/${code.code}`, true);
    }, place);
  return (
    <Screen
      title="Add a pack"
      back={["/", "Packs"]}
      dock={
        <button type="button" class="button main" onClick={add} aria-disabled={save.busy.value || !code.code}>
          Save pack
        </button>
      }
    >
      {code.complaint && (
        <Notice warm live="alert">
          <strong>{code.complaint.text}</strong>
          <p>{code.complaint.hint}</p>
          <a href="/add">Give it a new code instead</a>
        </Notice>
      )}
      {code.code && (
        <p>
          {scanned ? "Code on the label: " : "Its code will be "}
          <strong class="code">{code.code}</strong>
          {scanned ? "" : ". The label carries it."}
        </p>
      )}
      <AskInitials />
      <Restored shown={draft.restored.value} onDrop={draft.startAfresh} />
      {texts && (
        <ProfileFields texts={texts} field={(name) => field(name, texts[name] ?? "", (text) => draft.change({ [name]: text }))} />
      )}
      <Failed show what="Not saved" complaint={save.failed.value} />
    </Screen>
  );
}

function given(name: string, texts: Texts): Record<string, string> {
  const text = (texts[name] ?? "").trim();
  return text === "" ? {} : { [name]: text };
}

const codeKey = "add-code";

/** A code that no pack has: the same until a pack is saved with it, as it may stand on tape already. */
async function freeCode(): Promise<{ code: string; known: boolean }> {
  const kept = await loadDraft<string>(codeKey);
  if (kept) {
    const answer = await call("read-code", { text: kept });
    if (!answer.known) return answer;
  }
  const made = await call("new-code", { random: Array.from(crypto.getRandomValues(new Uint8Array(64))) });
  saveDraft(codeKey, made.code);
  return made;
}

/** A code for the new pack: the scanned one if it is valid and free, or one of its own. */
function useNewCode(scanned: string) {
  const found = useSignal<{ code: string; complaint: Complaint | null }>({ code: "", complaint: null });
  useEffect(() => {
    const ask = scanned ? call("read-code", { text: scanned }) : freeCode();
    ask.then(
      (answer) => {
        const taken = scanned !== "" && answer.known;
        found.value = {
          code: taken ? "" : answer.code,
          complaint: taken ? { text: `There is a pack ${answer.code} already.`, hint: "Open it from the list, or check the label." } : null,
        };
      },
      (error) => (found.value = { code: "", complaint: complaintOf(error) }),
    );
  }, [scanned]);
  return found.value;
}
