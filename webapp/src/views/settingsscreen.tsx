// A form of the team's settings: what is typed stands over what is in force, and one entry records what changed.
import { type ComponentChildren } from "preact";
import { record } from "../data/journal";
import { role } from "../data/status";
import { go } from "../router";
import { useAction } from "../ui/action";
import { AskInitials } from "../ui/askinitials";
import { useDraft } from "../ui/draft";
import { readNumbers, useComplaints, type Complaints, type NumberSpec, type Texts, type TypedField } from "../ui/form";
import { Failed, Notice } from "../ui/notice";
import { Restored } from "../ui/restored";
import { Screen } from "../ui/screen";
import { say } from "../ui/toast";
import { Unopened } from "../ui/unopened";
import type { Team } from "./model";
import { useTeam } from "./packdata";
import { changesOf } from "./teamform";

export interface SettingsForm {
  texts: Texts;
  field: (name: string) => TypedField;
}

interface Props<N extends string> {
  title: string;
  draftKey: string; // what is typed is kept under it
  numbers: Record<N, NumberSpec>;
  textsOf: (team: Team) => Texts;
  settingsOf: (texts: Texts, numbers: Partial<Record<N, number>>) => object;
  wrongWith: (texts: Texts, numbers: Partial<Record<N, number>>, before: Texts) => Complaints; // beside what each number has
  intro: string;
  crewIntro: string; // for those whose changes the server would refuse
  saved: string;
  children: (form: SettingsForm) => ComponentChildren;
}

const back: [string, string] = ["/setup", "Set-up"];

export function SettingsScreen<N extends string>(p: Props<N>) {
  const team = useTeam();
  if (!team) {
    return (
      <Screen title={p.title} back={back}>
        <Unopened />
      </Screen>
    );
  }
  return <Form {...p} team={team} />;
}

function Form<N extends string>({ team, ...p }: Props<N> & { team: Team }) {
  const before = p.textsOf(team);
  const draft = useDraft<Texts>(p.draftKey, {});
  const form = useComplaints();
  const save = useAction();
  const texts = { ...before, ...draft.value.value };
  const mayChange = role.value !== "crew";
  const keep = () =>
    save.run(async () => {
      const then = p.settingsOf(before, (await readNumbers(p.numbers, before)).numbers);
      const { numbers, complaints } = await readNumbers(p.numbers, texts);
      if (form.show({ ...complaints, ...p.wrongWith(texts, numbers, before) })) return;
      const body = changesOf(then, p.settingsOf(texts, numbers));
      if (Object.keys(body).length > 0) {
        await record("team-changed", "", body);
        say(p.saved);
      }
      await draft.drop();
      go("/setup", true);
    }, form.place);
  const field = (name: string) => form.field(name, texts[name] ?? "", (text) => draft.change({ [name]: text }));
  return (
    <Screen
      wide
      title={p.title}
      back={back}
      dock={
        mayChange && (
          <button type="button" class="button main" onClick={keep} aria-disabled={save.busy.value}>
            Save for the team
          </button>
        )
      }
    >
      {mayChange ? (
        <p>{p.intro}</p>
      ) : (
        <Notice>
          <strong>Only a lead may change these.</strong>
          <p>{p.crewIntro} A lead changes a device's role under Devices.</p>
        </Notice>
      )}
      {mayChange && <AskInitials />}
      <Restored shown={draft.restored.value} onDrop={draft.startAfresh} />
      <Failed show what="Not saved" complaint={save.failed.value} />
      {p.children({ texts, field })}
    </Screen>
  );
}
