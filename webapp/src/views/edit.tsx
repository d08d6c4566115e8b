// Change a pack's profile: only what changed is recorded.
import { record } from "../data/journal";
import { bestNowMS } from "../data/status";
import { go } from "../router";
import { restore, useAction } from "../ui/action";
import { AskInitials } from "../ui/askinitials";
import { useDraft } from "../ui/draft";
import { inServiceComplaint, readNumbers, useComplaints, type Texts } from "../ui/form";
import { Failed } from "../ui/notice";
import { Restored } from "../ui/restored";
import { Screen } from "../ui/screen";
import { say } from "../ui/toast";
import type { Pack } from "./model";
import { usePack } from "./packdata";
import { NoPack } from "./nopack";
import { ProfileFields, profileNumbers, textsOf } from "./profileform";

export function Edit({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  if (!pack) return <NoPack code={code} complaint={complaint} />;
  return <EditForm pack={pack} />;
}

function EditForm({ pack }: { pack: Pack }) {
  const before = textsOf(pack);
  const draft = useDraft<Texts>(`edit:${pack.code}`, before);
  const { show, place, field } = useComplaints();
  const save = useAction();
  const texts = draft.value.value;
  const back = `/p/${pack.code}`;
  const change = () =>
    save.run(async () => {
      if (!texts) return;
      const read = await readNumbers(profileNumbers, texts);
      if ((texts.name ?? "").trim() === "") read.complaints.name = { text: "the pack needs a name", hint: "write what stands on it" };
      const early = texts.in_service === before.in_service ? null : inServiceComplaint(texts.in_service ?? "", bestNowMS());
      if (early) read.complaints.in_service = early;
      const retiring = texts.retired === "yes" && before.retired !== "yes";
      if (retiring && (texts.retired_why ?? "").trim() === "") {
        read.complaints.retired_why = { text: "say why it is retired", hint: "a few words are enough" };
      }
      if (show(read.complaints)) return;
      const body = changes(before, texts, read.numbers);
      if (Object.keys(body).length > 0) {
        const made = await record("profile-changed", pack.code, body);
        say(retiring ? "Pack retired" : "Profile saved", () => restore(pack.code, made.id));
      }
      await draft.drop();
      go(back, true);
    }, place);
  return (
    <Screen
      title={`Change ${pack.name || pack.code}`}
      back={[back, pack.name || pack.code]}
      dock={
        <button type="button" class="button main" onClick={change} aria-disabled={save.busy.value}>
          Save changes
        </button>
      }
    >
      <AskInitials />
      <Restored shown={draft.restored.value} onDrop={draft.startAfresh} />
      {texts && (
        <ProfileFields
          disposal={pack.disposal}
          texts={texts}
          field={(name) => field(name, texts[name] ?? "", (text) => draft.change({ [name]: text }))}
        />
      )}
      <Failed show what="Not saved" complaint={save.failed.value} />
    </Screen>
  );
}

/** The fields whose text differs, as a profile-changed body; an emptied number becomes 0, not known. */
function changes(before: Texts, now: Texts, numbers: Partial<Record<string, number>>): Record<string, unknown> {
  const body: Record<string, unknown> = {};
  for (const name of Object.keys(before)) {
    const gone = name === "retired_why" && now.retired !== "yes"; // back in the fleet
    const text = gone ? "" : (now[name] ?? "").trim();
    if (text === before[name]) continue;
    if (name in profileNumbers) body[name] = numbers[name] ?? 0;
    else if (name === "retired") body[name] = text === "yes";
    else body[name] = text;
  }
  return body;
}
