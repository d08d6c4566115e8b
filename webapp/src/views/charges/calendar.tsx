// What is due for the whole fleet, as a file that a phone's calendar takes.
import { call } from "../../core/bridge";
import { useAction } from "../../ui/action";
import { download } from "../../ui/export";
import { Failed } from "../../ui/notice";

export function SaveCalendar() {
  const act = useAction();
  const save = () =>
    act.run(async () => {
      const { text } = await call("calendar", { now_ms: Date.now() });
      download("packwright-due.ics", new Blob([text], { type: "text/calendar" }));
    });
  return (
    <>
      <button type="button" class="button" onClick={save} aria-disabled={act.busy.value}>
        Calendar file of all packs
      </button>
      <Failed what="Not made" complaint={act.failed.value} />
    </>
  );
}
