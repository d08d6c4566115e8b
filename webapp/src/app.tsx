// The app: banners over everything, then the screen of the route.
import { useErrorBoundary } from "preact/hooks";
import { type JSX } from "preact";
import { offlineProblem, ready, saveProblem, startProblem, tier, updateWaiting, wiped } from "./data/status";
import { putUpdateOff } from "./data/update";
import { path } from "./router";
import { parse, type Route } from "./routes";
import { useAction } from "./ui/action";
import { saveExport } from "./ui/export";
import { later } from "./ui/later";
import { Failed, Notice, sentence } from "./ui/notice";
import { Toasts } from "./ui/toast";
import { Packs } from "./views/packs";

const PackScreen = later(async () => (await import("./views/pack")).PackScreen);

const testing = () => import("./views/testing");
const Guided = later(async () => (await testing()).Guided);
const Quick = later(async () => (await testing()).Quick);
const Scan = later(async () => (await testing()).Scan);
const TestDetail = later(async () => (await testing()).TestDetail);

const registering = () => import("./views/registering");
const Add = later(async () => (await registering()).Add);
const Edit = later(async () => (await registering()).Edit);
const AddFinding = later(async () => (await registering()).AddFinding);
const ShowLabel = later(async () => (await registering()).ShowLabel);

const season = () => import("./views/season");
const Health = later(async () => (await season()).Health);
const Lead = later(async () => (await season()).Lead);
const Repair = later(async () => (await season()).Repair);
const Wiggle = later(async () => (await season()).Wiggle);

const logging = () => import("./views/logging");
const Charges = later(async () => (await logging()).Charges);
const RunDetail = later(async () => (await logging()).RunDetail);
const RunScreen = later(async () => (await logging()).RunScreen);

const fleetwide = () => import("./views/fleetwide");
const Board = later(async () => (await fleetwide()).Board);
const ImportTests = later(async () => (await fleetwide()).ImportTests);

const office = () => import("./views/office");
const Nowhere = later(async () => (await office()).Nowhere);
const Paper = later(async () => (await office()).Paper);
const SeasonSetup = later(async () => (await office()).SeasonSetup);
const Setup = later(async () => (await office()).Setup);
const Stored = later(async () => (await office()).Stored);
const TeamSetup = later(async () => (await office()).TeamSetup);
const Unsent = later(async () => (await office()).Unsent);
const UpdateReady = later(async () => (await office()).UpdateReady);

const field = () => import("./views/field");
const Devices = later(async () => (await field()).Devices);
const HandOver = later(async () => (await field()).HandOver);
const Join = later(async () => (await field()).Join);
const TierNotice = later(async () => (await field()).TierNotice);
const ReadJournal = later(async () => (await field()).ReadJournal);
const Take = later(async () => (await field()).Take);
const Wipe = later(async () => (await field()).Wipe);
const Wiped = later(async () => (await field()).Wiped);

function screenOf(route: Route): JSX.Element {
  switch (route.screen) {
    case "packs":
      return <Packs />;
    case "add":
      return <Add code={route.code} />;
    case "scan":
      return <Scan />;
    case "pack":
      return <PackScreen code={route.code} />;
    case "edit":
      return <Edit code={route.code} />;
    case "finding":
      return <AddFinding code={route.code} />;
    case "label":
      return <ShowLabel code={route.code} />;
    case "health":
      return <Health code={route.code} />;
    case "wiggle":
      return <Wiggle code={route.code} />;
    case "repair":
      return <Repair code={route.code} />;
    case "lead":
      return <Lead code={route.code} />;
    case "charges":
      return <Charges code={route.code} />;
    case "run":
      return <RunScreen code={route.code} />;
    case "rundetail":
      return <RunDetail code={route.code} entry={route.entry} />;
    case "guided":
      return <Guided code={route.code} />;
    case "quick":
      return <Quick code={route.code} />;
    case "test":
      return <TestDetail code={route.code} entry={route.entry} />;
    case "board":
      return <Board />;
    case "import":
      return <ImportTests />;
    case "paper":
      return <Paper />;
    case "setup":
      return <Setup />;
    case "team":
      return <TeamSetup />;
    case "season":
      return <SeasonSetup />;
    case "journal":
      return <ReadJournal />;
    case "stored":
      return <Stored />;
    case "unsent":
      return <Unsent />;
    case "devices":
      return <Devices />;
    case "wipe":
      return <Wipe />;
    case "join":
      return <Join />;
    case "take":
      return <Take />;
    case "handover":
      return <HandOver />;
    case "nowhere":
      return <Nowhere />;
  }
}

export function App() {
  const [broken, mend] = useErrorBoundary();
  if (broken && wiped.value) return <h1>Wiped</h1>; // its words may be gone with the app's files
  if (broken) return <Broken error={broken} onAgain={mend} />;
  if (wiped.value) return <Wiped />;
  return (
    <>
      <Banners />
      {/* keyed by path: another pack is another screen */}
      <div key={path.value}>{screenOf(parse(path.value))}</div>
      <Toasts />
    </>
  );
}

function Banners() {
  const exporting = useAction();
  const weak = tier.value === "plain" || tier.value === "clicked";
  return (
    <div class="banners">
      <div role="alert">
        {ready.value === "failed" && (
          <Notice warm>
            <strong>The journal on this device could not be opened.</strong>
            <p>{sentence(startProblem.value ?? "the reason is not known")}</p>
            <button type="button" class="button small" onClick={() => location.reload()}>
              Try again
            </button>
          </Notice>
        )}
        {saveProblem.value && (
          <Notice warm>
            <strong>{sentence(saveProblem.value)}</strong>
            <p>Leave this screen open, make room on this device, and try once more. A journal saved as a file is safe.</p>
            <button type="button" class="button small" onClick={() => exporting.run(saveExport)}>
              Save journal as file
            </button>
          </Notice>
        )}
      </div>
      <div role="status">
        {ready.value !== "failed" && startProblem.value && <Notice>{sentence(startProblem.value)}</Notice>}
        {weak ? <TierNotice tier={tier.value} /> : offlineProblem.value && <Notice>{sentence(offlineProblem.value)}</Notice>}
        {updateWaiting.value && <UpdateReady onLater={putUpdateOff} />}
      </div>
      <Failed what="Not exported" complaint={exporting.failed.value} />
    </div>
  );
}

function Broken({ error, onAgain }: { error: unknown; onAgain: () => void }) {
  return (
    <main class="sheet">
      <h1>This screen failed</h1>
      <Notice warm live="alert">
        <p>{error instanceof Error ? error.message : String(error)}</p>
        <p>What was saved is safe, and half-filled forms are kept.</p>
      </Notice>
      <button type="button" class="button main" onClick={onAgain}>
        Show it again
      </button>
      <a class="button" href="/" target="_self">
        Start afresh
      </a>
    </main>
  );
}
