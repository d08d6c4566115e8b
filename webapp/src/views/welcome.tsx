// First start: an empty fleet.
import { useSignal } from "@preact/signals";
import { barred } from "../data/access";
import { countDemo, importDemo } from "../data/demo";
import { useAction } from "../ui/action";
import { Icon } from "../ui/icon";
import { Failed, Notice } from "../ui/notice";
import { Screen } from "../ui/screen";
import { say } from "../ui/toast";
import { Outside } from "./outside";

export function Welcome() {
  return barred() ? <Outside /> : <FirstPack />;
}

function FirstPack() {
  const demo = useAction();
  const entries = useSignal(0); // of the demo season, when asked whether it is meant
  const ask = () =>
    demo.run(async () => {
      entries.value = await countDemo();
    });
  const load = () =>
    demo.run(async () => {
      await importDemo();
      say("Demo season loaded");
    });
  return (
    <Screen
      title="Know your packs"
      links={<a href="/setup">Set-up</a>}
      dock={
        entries.value > 0 ? (
          <>
            <button type="button" class="button" onClick={() => (entries.value = 0)}>
              No, leave it empty
            </button>
            <button type="button" class="button" onClick={load} aria-disabled={demo.busy.value}>
              {demo.busy.value ? "Loading the demo season …" : "Yes, load the invented entries"}
            </button>
          </>
        ) : (
          <a class="button main" href="/add">
            <Icon name="add" />
            Add the first pack
          </a>
        )
      }
    >
      <ol class="steps">
        <li>
          <span>Give each battery pack a code and a label.</span>
        </li>
        <li>
          <span>Be led through its resistance test, on this device, with or without a network.</span>
        </li>
        <li>
          <span>See which packs are fit for competition, which for practice, which to set aside, and why.</span>
        </li>
      </ol>
      <div class="stack">
        <a class="button" href="/scan">
          <Icon name="scan" />
          Scan a label
        </a>
        {entries.value === 0 ? (
          <>
            <button type="button" class="button" onClick={ask} aria-disabled={demo.busy.value}>
              {demo.busy.value ? "Asking the server …" : "Load the demo season"}
            </button>
            <p class="small quiet">The demo is an invented team and season, to look around with. You are asked once more before it is loaded.</p>
          </>
        ) : (
          <Notice warm live="alert">
            <strong>{entries.value} invented entries will be kept for good.</strong>
            <p>
              They cannot be taken out of this journal again, and they are sent to the server at {location.host}. Load them only where that
              server was started with a data folder and an address for trying things out, as by{" "}
              <span class="id">make run DATA=bin/demo-season LISTEN=127.0.0.1:8099</span>, never where your own packs will be kept.
            </p>
          </Notice>
        )}
      </div>
      <Failed what="Not loaded" complaint={demo.failed.value} />
      <p>
        Set up your meter and load resistor under <a href="/setup/team">Meter, load and limits</a> before the first test.
      </p>
    </Screen>
  );
}
