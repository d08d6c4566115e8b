// A pack's address while the journal is not open, or when there is no such pack.
import { ready } from "../data/status";
import { Notice, sentence, type Complaint } from "../ui/notice";
import { Screen } from "../ui/screen";
import { Unopened } from "../ui/unopened";

export function NoPack({ code, complaint }: { code: string; complaint: Complaint | null }) {
  if (!complaint || ready.value !== "ready") {
    return (
      <Screen title={`Pack ${code}`} back={["/", "Packs"]}>
        <Unopened />
      </Screen>
    );
  }
  return (
    <Screen
      title={`No pack ${code} here`}
      back={["/", "Packs"]}
      dock={
        <>
          <a class="button" href={`/add/${code}`}>
            Add this pack
          </a>
          <a class="button main" href="/scan">
            Scan again
          </a>
        </>
      }
    >
      <Notice warm live="alert">
        <strong>{sentence(complaint.text)}</strong>
        {complaint.hint && <p>{sentence(complaint.hint)}</p>}
      </Notice>
      <p>It may be on another device that has not sent it yet. Then wait for that one to sync before adding it here.</p>
      <p>
        A test need not wait: <a href={`/p/${code}/quick`}>test it now</a>, and the result joins the pack later.
      </p>
    </Screen>
  );
}
