// The fleet over the season: what is fit now and then, what to buy, what to test
// next, and the packs side by side.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { call } from "../../core/bridge";
import { Problem } from "../../core/problem";
import type { Board as Answer } from "../../core/types";
import { overview, revision } from "../../data/fleet";
import { bestNowMS } from "../../data/status";
import { TextField } from "../../ui/fields";
import { dateComplaint, readNumbers } from "../../ui/form";
import { localDate } from "../../ui/moment";
import { NumberField } from "../../ui/numberfield";
import { complaintOf, Failed, sentence, type Complaint } from "../../ui/notice";
import { Panel, Screen } from "../../ui/screen";
import { Unopened } from "../../ui/unopened";
import type { Team } from "../model";
import { Answers } from "./answers";
import { Buy } from "./buy";
import { Files } from "./files";
import { Fit } from "./fit";
import { Found, OffDays } from "./found";
import { NextTests } from "./nexttests";
import { SideBySide } from "./sidebyside";

export function Board() {
  const fleet = overview.value;
  if (!fleet) {
    return (
      <Screen title="Fleet board" back={["/", "Packs"]}>
        <Unopened />
      </Screen>
    );
  }
  return <Shown team={fleet.team} empty={fleet.packs.length === 0} />;
}

function Shown({ team, empty }: { team: Team; empty: boolean }) {
  const day = useSignal(""); // empty: the event's
  const wanted = useSignal(""); // empty: the team's
  const never = day.value ? dayComplaint(day.value) : null;
  const { board, complaint } = useBoard(never ? "" : day.value, wanted.value);
  return (
    <Screen
      title="Fleet board"
      back={["/", "Packs"]}
      wide
      dock={
        <>
          <a class="button" href="/setup/season">
            Event and price
          </a>
          <button type="button" class="button main" onClick={() => document.getElementById("report")?.scrollIntoView({ block: "center" })}>
            Print or save
          </button>
        </>
      }
    >
      {empty && <p>There is no pack yet.</p>}
      <Failed what="The board cannot be worked out" complaint={complaint} />
      {!board && !complaint && <p role="status">Working it out …</p>}
      {board && board.rows.length > 0 && <Answers board={board} />}
      <div class="columns">
        <div class="stack">
          {board && <Fit plan={board.plan} />}
          {board && <Buy plan={board.plan} />}
          <Panel title="Another day or number">
            <div class="fields">
              <TextField
                name="day"
                label="On this day"
                type="date"
                text={day.value || (board ? localDate(board.plan.then_ms) : "")}
                help={team.event_name ? board?.event : "Event and number of the team are in Set-up, Season"}
                complaint={never ?? undefined}
                onText={(text) => (day.value = text)}
              />
              <NumberField
                name="wanted"
                label="Wanted, fit for competition"
                quantity="count"
                text={wanted.value}
                help={team.wanted_packs > 0 ? `Empty: ${team.wanted_packs}, the team's` : "How many packs"}
                onText={(text) => (wanted.value = text)}
              />
            </div>
          </Panel>
        </div>
        {board && (
          <div class="stack">
            <Found rows={board.rows} />
            <NextTests list={board.plan.test} shown={board.plan.shown} />
            <OffDays days={board.days} />
          </div>
        )}
      </div>
      {board && board.rows.length > 0 && <SideBySide rows={board.rows} thenMS={board.plan.then_ms} />}
      {board?.recycling && (
        <Panel title="Recycling">
          <p>{sentence(board.recycling)}</p>
        </Panel>
      )}
      <Files day={never ? "" : day.value} wanted={wanted.value} />
    </Screen>
  );
}

/** What is wrong with the day asked about: it is still to come. */
function dayComplaint(day: string): Complaint | null {
  const never = dateComplaint(day);
  if (never || day >= localDate(bestNowMS())) return never;
  return { text: "this day is over", hint: "choose one that is still to come" };
}

const mostWanted = 500;

/** The core's answer for a day (empty: the team's event) and a number (empty: the team's), fresh after every entry. */
function useBoard(day: string, wanted: string): { board: Answer | null; complaint: Complaint | null } {
  const found = useSignal<{ board: Answer | null; complaint: Complaint | null }>({ board: null, complaint: null });
  const at = revision.value;
  useEffect(() => {
    let current = true;
    void (async () => {
      try {
        const { numbers, complaints } = await readNumbers({ wanted: { quantity: "count" } }, { wanted });
        if (Object.keys(complaints).length > 0) return; // said beside the field
        if ((numbers.wanted ?? 0) > mostWanted) throw new Problem("invalid", `${wanted} packs are more than any team has`, `ask for ${mostWanted} at most`);
        const board = await call("board", { now_ms: bestNowMS(), day, wanted: numbers.wanted ?? 0 });
        if (current) found.value = { board, complaint: null };
      } catch (error) {
        if (current) found.value = { board: null, complaint: complaintOf(error) };
      }
    })();
    return () => {
      current = false;
    };
  }, [day, wanted, at]);
  return found.value;
}
