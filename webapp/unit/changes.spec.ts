import { expect, test } from "@playwright/test";
import type { Team } from "../src/views/model";
import { changesOf, settingsOf, textsOf, type Numbers } from "../src/views/teamform";

const team: Team = {
  name: "Pit crew",
  limits: { competition_ohm: 0.1, robot: { rest_v: 12.8, brownout_v: 8.8, peak_a: 20 } },
  meter: { reading_pct: 0.5, counts: 2, resolution_v: 0.01 },
  load: { ohm: 10, tolerance_pct: 5, lead_ohm: 0, rating_w: 25, on_heat_sink: false },
  read_after_s: 5,
  repeats: 3,
  rest_min: 60,
  retest_days: 30,
  base_url: "",
  event_name: "",
  event_date: "",
  wanted_packs: 4,
  wanted_pct: 90,
  pack_price: 0,
  currency: "",
  delivery_days: 21,
  to_20c: false,
  capacity_good_pct: 80,
  capacity_end_pct: 60,
  charge_factor: 1.2,
  self_discharge_pct_month: 30,
  top_up_days: 90,
  condition_days: 180,
  reference_pack: "",
};

/** Stands for the core here: every text is a plain number. */
const numbersOf = (texts: Record<string, string>): Numbers =>
  Object.fromEntries(
    Object.entries(texts)
      .filter(([, text]) => text !== "" && !Number.isNaN(Number(text)))
      .map(([name, text]) => [name, Number(text)]),
  );

const changed = (part: Record<string, string>, from = team) => {
  const before = textsOf(from);
  const now = { ...before, ...part };
  return changesOf(settingsOf(before, numbersOf(before)), settingsOf(now, numbersOf(now)));
};

test("an untouched form changes nothing", () => {
  expect(changed({})).toEqual({});
});

test("only what differs is recorded", () => {
  expect(changed({ competition_ohm: "0.12" })).toEqual({ competition_ohm: 0.12 });
  expect(changed({ repeats: "5", name: " Pit crew " })).toEqual({ repeats: 5 });
});

test("a meter, a load and a robot change as a whole", () => {
  expect(changed({ counts: "3" })).toEqual({ meter: { reading_pct: 0.5, counts: 3, resolution_v: 0.01 } });
  expect(changed({ tolerance_pct: "", uncertainty_ohm: "0.02" })).toEqual({
    load: { ohm: 10, uncertainty_ohm: 0.02, lead_ohm: 0, rating_w: 25, on_heat_sink: false },
  });
});

test("the load's temperature coefficient comes and goes with the load", () => {
  const load = { ohm: 10, tolerance_pct: 5, lead_ohm: 0, rating_w: 25, on_heat_sink: false };
  expect(changed({ tempco_ppm_k: "100" })).toEqual({ load: { ...load, tempco_ppm_k: 100 } });
  const own = { ...team, load: { ...team.load, tempco_ppm_k: 100 } };
  expect(changed({ rating_w: "50" }, own)).toEqual({ load: { ...load, rating_w: 50, tempco_ppm_k: 100 } });
  expect(changed({ tempco_ppm_k: "" }, own)).toEqual({ load });
});

test("an emptied practice limit goes back to the robot's", () => {
  expect(changed({ practice_ohm: "0.15" })).toEqual({ practice_ohm: 0.15 });
  const own = { ...team, limits: { ...team.limits, practice_ohm: 0.15 } };
  expect(changed({ practice_ohm: "" }, own)).toEqual({ practice_ohm: 0 });
});
