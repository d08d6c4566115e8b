// The load that a capacity check begins with: the team's, or the standard one where
// the team's is far from it.
import { call } from "../../core/bridge";
import type { Pack, Team } from "../model";

export interface Planned {
  ohm: number;
  teamOhm: number;
  suggested: boolean; // not the team's
  duration_s: number | null; // about, if the pack holds its rating
}

export async function plannedLoad(pack: Pack, team: Team): Promise<Planned | null> {
  const teamOhm = team.load.ohm;
  if (!(teamOhm > 0)) return null;
  const plan = await call("run-plan", { pack: pack.code, load: team.load, stop_v: 0 });
  if (plan.suggest_ohm === null) return { ohm: teamOhm, teamOhm, suggested: false, duration_s: plan.duration_s };
  const load = { ohm: plan.suggest_ohm, lead_ohm: 0, rating_w: 0, on_heat_sink: false };
  const { duration_s } = await call("run-plan", { pack: pack.code, load, stop_v: 0 });
  return { ohm: plan.suggest_ohm, teamOhm, suggested: true, duration_s };
}
