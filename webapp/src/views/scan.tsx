// Find a pack by its label: camera and typed code side by side, as equals.
import { useSignal } from "@preact/signals";
import { useId } from "preact/hooks";
import { call } from "../core/bridge";
import { barred } from "../data/access";
import { isInvitation, readInvitation } from "../data/devices";
import { go } from "../router";
import { useAction } from "../ui/action";
import { buzz, tick, unlockSound } from "../ui/signals";
import { FieldComplaint } from "../ui/numberfield";
import { Notice, complaintOf, sentence } from "../ui/notice";
import { Screen } from "../ui/screen";
import { Viewfinder } from "../ui/viewfinder";

export function Scan() {
  const unknown = useSignal(""); // a valid code that no pack here has
  const foreign = useSignal(""); // what was wrong with a scanned text
  const scanned = async (text: string): Promise<boolean> => {
    if (isInvitation(text)) {
      go(`/join#${readInvitation(text)}`, true);
      return true;
    }
    try {
      const { code, known } = await call("read-code", { text });
      tick();
      buzz(60);
      foreign.value = "";
      if (known) go(`/p/${code}`, true);
      else unknown.value = code;
      return true;
    } catch (error) {
      foreign.value = complaintOf(error).text;
      return false;
    }
  };
  return (
    <Screen title="Scan a label" back={["/", "Packs"]}>
      {unknown.value ? (
        <Unknown code={unknown.value} onAgain={() => (unknown.value = "")} />
      ) : (
        <>
          <Viewfinder onText={scanned} />
          <div role="status">{foreign.value && <Notice warm>That is not a pack label: {sentence(foreign.value)}</Notice>}</div>
          <CodeEntry onCode={scanned} />
        </>
      )}
    </Screen>
  );
}

function Unknown({ code, onAgain }: { code: string; onAgain: () => void }) {
  if (barred()) { // it may never have been shown the team's packs
    return (
      <>
        <Notice live="alert">
          <strong>
            <span class="code">{code}</span> is a good code. This browser does not know the team's packs.
          </strong>
          <p>Test it all the same: the result is worked out and kept here, and joins the pack later.</p>
        </Notice>
        <a class="button main" href={`/p/${code}/test`}>
          Test pack {code}, step by step
        </a>
        <a class="button" href={`/p/${code}/quick`}>
          Type in readings
        </a>
        <button type="button" class="button" onClick={onAgain}>
          Another label
        </button>
      </>
    );
  }
  return (
    <>
      <Notice live="alert">
        <strong>
          <span class="code">{code}</span> is a good code, but no pack on this device has it.
        </strong>
        <p>Another device may have added it and not sent it yet. If it is new, add it now.</p>
      </Notice>
      <a class="button main" href={`/add/${code}`}>
        Add pack {code}
      </a>
      <a class="button" href={`/p/${code}/quick`}>
        Test it without adding it
      </a>
      <button type="button" class="button" onClick={onAgain}>
        Scan again
      </button>
    </>
  );
}

function CodeEntry({ onCode }: { onCode: (text: string) => Promise<boolean> }) {
  const id = useId();
  const text = useSignal("");
  const act = useAction();
  const open = (event: Event) => {
    event.preventDefault();
    unlockSound();
    void act.run(async () => {
      await call("read-code", { text: text.value }); // a complaint belongs beside this field
      await onCode(text.value);
    });
  };
  return (
    <form class="panel code-entry" onSubmit={open}>
      <div class="field">
        <label for={id}>Or type the code on the label</label>
        <div class="field-row">
          <input
            id={id}
            name="code"
            value={text.value}
            autocomplete="off"
            autocapitalize="characters"
            spellcheck={false}
            enterkeyhint="go"
            aria-describedby={`${id}-help ${id}-complaint`}
            aria-invalid={act.failed.value ? "true" : undefined}
            onInput={(e) => (text.value = e.currentTarget.value)}
          />
          <button type="submit" class="button main" aria-label="Open pack">
            Open
          </button>
        </div>
        <div class="small quiet" id={`${id}-help`}>
          Six characters. Capitals, spaces and hyphens do not matter.
        </div>
        <FieldComplaint id={`${id}-complaint`} complaint={act.failed.value} />
      </div>
    </form>
  );
}
