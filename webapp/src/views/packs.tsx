// Home: the fleet at a glance, what needs attention first.
import { useSignal } from "@preact/signals";
import { overview } from "../data/fleet";
import { access } from "../data/status";
import { atMost, capital, count, daysAgo, outcomeWord, pair, useWord } from "../ui/format";
import { Icon } from "../ui/icon";
import { later } from "../ui/later";
import { Mark } from "../ui/outcome";
import { MiniScale } from "../ui/scale";
import { Screen } from "../ui/screen";
import { Unopened } from "../ui/unopened";
import { UnsentTag } from "../ui/unsenttag";
import type { Outcome, Overview, Row } from "./model";

const Welcome = later(async () => (await import("./field")).Welcome);

const OffList = later(async () => (await import("./field")).OffList);

const Notes = later(async () => (await import("./notes")).Notes); // below the packs, so they need not wait for it

const order: Outcome[] = ["competition", "practice", "retest", "set-aside", "untested"];

type Filter = Outcome | "retired" | "";

export function Packs() {
  const fleet = overview.value;
  const search = useSignal("");
  const filter = useSignal<Filter>("");
  if (!fleet) return <Starting />;
  if (fleet.packs.length === 0) return <Welcome />;
  const shown = fleet.packs.filter((row) => matches(row, search.value, filter.value));
  return (
    <Screen title={fleet.team.name ? `Packs of ${fleet.team.name}` : "Packs"} wide links={<Links />} dock={<Dock />}>
      {access.value === "signed-out" && <OffList />}
      <Counts fleet={fleet} filter={filter.value} onFilter={(f) => (filter.value = filter.value === f ? "" : f)} />
      {fleet.packs.length > 5 && (
        <input
          class="search"
          type="search"
          aria-label="Search by name or code"
          placeholder="Name or code"
          autocapitalize="none"
          autocomplete="off"
          value={search.value}
          onInput={(e) => (search.value = e.currentTarget.value)}
        />
      )}
      <p class="unseen" role="status">
        {count(shown.length, "pack")} shown
      </p>
      {shown.length === 0 && <p>No pack fits. Clear the search or choose another outcome.</p>}
      <ul class="packs">
        {shown.map((row) => (
          <PackRow key={row.code} row={row} limit={fleet.team.limits.competition_ohm} />
        ))}
      </ul>
      <Notes code="" notes={fleet.notes} />
    </Screen>
  );
}

function matches(row: Row, search: string, filter: Filter): boolean {
  if (filter === "retired" ? !row.retired : row.retired && search === "") return false;
  if (filter && filter !== "retired" && row.outcome !== filter) return false;
  const text = search.trim().toLowerCase();
  return text === "" || row.name.toLowerCase().includes(text) || row.code.toLowerCase().includes(text.replace(/[\s-]/g, ""));
}

function Links() {
  return (
    <>
      <a href="/paper">Paper</a>
      <a href="/setup">Set-up</a>
    </>
  );
}

function Dock() {
  return (
    <>
      <a class="button over" href="/board">
        <Icon name="board" />
        Board
      </a>
      <a class="button over" href="/add">
        <Icon name="add" />
        Add pack
      </a>
      <a class="button main" href="/scan">
        <Icon name="scan" />
        Scan
      </a>
    </>
  );
}

function Counts({ fleet, filter, onFilter }: { fleet: Overview; filter: Filter; onFilter: (f: Filter) => void }) {
  const of = (o: Outcome) => fleet.counts[o === "set-aside" ? "set_aside" : o];
  return (
    <div class="tally" role="group" aria-label="Show only">
      {order
        .filter((o) => of(o) > 0)
        .map((o) => (
          <button key={o} type="button" aria-pressed={filter === o} onClick={() => onFilter(o)}>
            <Mark outcome={o} />
            <strong>{of(o)}</strong> <span>{outcomeWord[o]}</span>
          </button>
        ))}
      {fleet.counts.retired > 0 && (
        <button type="button" aria-pressed={filter === "retired"} onClick={() => onFilter("retired")}>
          <strong>{fleet.counts.retired}</strong> <span>Retired</span>
        </button>
      )}
    </div>
  );
}

/** When the pack was last tested, in days of the calendar; empty where never, or where the clock was wrong. */
function ageOf(row: Row): string {
  return row.tested_ms === null || row.days_since_test === null ? "" : daysAgo(row.tested_ms);
}

function PackRow({ row, limit }: { row: Row; limit: number }) {
  // "set aside: swollen" says the outcome itself
  const saysOutcome = row.attention.toLowerCase().startsWith(useWord(row).toLowerCase());
  return (
    <li>
      <a class="pack-row" href={`/p/${row.code}`}>
        <Mark outcome={row.outcome} />
        <span>
          <span class="name">{row.name || "No name"}</span> <span class="code quiet">{row.code}</span>
          <br />
          {row.retired ? "Retired" : saysOutcome ? null : useWord(row)}
          {row.attention && (
            <>
              {!saysOutcome && <br />}
              <strong class="small">{capital(row.attention)}</strong>
            </>
          )}
          <UnsentTag ids={row.entry_ids} />
        </span>
        <Reading row={row} limit={limit} />
      </a>
    </li>
  );
}

function Reading({ row, limit }: { row: Row; limit: number }) {
  const age = ageOf(row);
  const tested = age && <span class="small quiet">{age}</span>;
  if (row.resistance_ohm !== null && row.bound_only) {
    return (
      <span class="reading">
        <span class="value">{atMost(row.resistance_ohm)}</span>
        <span class="small nowrap">upper bound</span>
        {tested}
      </span>
    );
  }
  if (row.resistance_ohm === null || row.expanded_uncertainty_ohm === null) return <span class="reading">{tested}</span>;
  const [value, spread] = pair(row.resistance_ohm, row.expanded_uncertainty_ohm);
  return (
    <span class="reading">
      <span class="value">{value} Ω</span>
      <span class="small nowrap">± {spread} Ω</span>
      <MiniScale value={row.resistance_ohm} expanded={row.expanded_uncertainty_ohm} limit={limit} />
      {tested}
    </span>
  );
}

function Starting() {
  return (
    <Screen title="Packs" links={<Links />} dock={<Dock />}>
      <Unopened />
    </Screen>
  );
}
