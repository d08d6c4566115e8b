// Where a browser has not been given the team's settings, the usual ones stand in:
// a result is only as good as they are.
import { barred } from "../data/access";
import { overview } from "../data/fleet";
import { plain } from "../ui/format";
import { Notice } from "../ui/notice";

/** Nothing where the settings are the team's, or were set in this browser. */
export function UsualValues() {
  const fleet = overview.value;
  if (!barred() || !fleet || fleet.team_history.some((change) => !change.voided)) return null;
  const { load, meter, limits } = fleet.team;
  return (
    <Notice>
      <strong>Load, meter and limits here are usual values, not your team's.</strong>
      <p>
        Load {plain(load.ohm)} Ω, last digit of the meter {plain(meter.resolution_v)} V, limit {plain(limits.competition_ohm)} Ω. Put in what you
        have under <a href="/setup/team">Meter, load and limits</a> first: the result depends on it. It stays in this browser.
      </p>
    </Notice>
  );
}
