// A pack's health in short, on its page: where it is going, the finding that
// matters most, and the ways to what belongs to a season.
import { Icon } from "../../ui/icon";
import { LinkLine } from "../../ui/linkline";
import { sentence } from "../../ui/notice";
import { Panel } from "../../ui/screen";
import { useHealth } from "./data";
import { forecastWords } from "./words";

const ways: [page: string, words: string][] = [
  ["health", "Trend, findings and forecast"],
  ["run", "Capacity check and logged runs"],
  ["charges", "Charges"],
  ["wiggle", "Wiggle test"],
  ["lead", "The lead, part by part"],
  ["repair", "Record a repair"],
];

export function HealthPanel({ code }: { code: string }) {
  const { health, complaint } = useHealth(code);
  const open = health?.report.findings.filter((finding) => !finding.past) ?? [];
  const [first, ...others] = open;
  const forecast = health?.trend && ["crossing", "already-above"].includes(health.trend.outcome) && forecastWords(health.trend);
  return (
    <Panel title="Health over the season">
      {!health && !complaint && <p class="quiet">Working it out …</p>}
      {health && <p>{sentence(health.trend?.text ?? (health.problem || "no trend"))}</p>}
      {forecast && <p>{forecast}</p>}
      {complaint && <p>{sentence(complaint.text)}</p>}
      {first && (
        <>
          <p>
            <span class="tag">
              <Icon name="alert" />
              {first.title}
            </span>{" "}
            {sentence(first.action)}
          </p>
          {others.length > 0 && <p class="small quiet">Also: {others.map((finding) => finding.title.toLowerCase()).join(", ")}.</p>}
        </>
      )}
      <ul class="links">
        {ways.map(([page, words]) => (
          <LinkLine key={page} href={`/p/${code}/${page}`} words={words} />
        ))}
      </ul>
    </Panel>
  );
}
