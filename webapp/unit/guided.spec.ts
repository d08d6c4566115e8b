import { expect, test } from "@playwright/test";
import { core } from "../src/core/bridge";
import { bodyOf, fresh, usedNow } from "../src/views/guided/draft";
import type { SetupCheck, Team } from "../src/views/model";
import { CoreWorker } from "./fake";

const meter = { reading_pct: 0.5, counts: 2, resolution_v: 0.01 };
const load = { ohm: 10, tolerance_pct: 5, lead_ohm: 0, rating_w: 50, on_heat_sink: true };
const team = { load, meter, read_after_s: 5, repeats: 3 } as Team;

test.beforeAll(async () => {
  CoreWorker.answer = (_, request: { text: string }) => ({ value: Number(request.text.replace(",", ".")) });
  Object.assign(globalThis, { Worker: CoreWorker, CORE_WORKER_URL: "core" });
  await core.start(async () => {});
});

test.afterAll(() => {
  CoreWorker.all = []; // other files count theirs
});

test("a test's body is made from what was confirmed at its start", async () => {
  const draft = { ...fresh, used: usedNow(team, { load_rise_k: 12 } as SetupCheck), open: ["12,84"], loaded: ["12.71"] };
  const kept = JSON.parse(JSON.stringify(draft)) as typeof draft; // as in the phone's storage
  const { body } = await bodyOf(kept, kept.used);
  expect(body).toEqual({
    method: "known-load",
    open_v: [12.84],
    loaded_v: [12.71],
    load_ohm: 10,
    load_tolerance_pct: 5,
    meter,
    read_after_s: 5,
  });
});

test("the load's heating is in the body where coefficient and estimate are known", async () => {
  const measured = { ...team, load: { ...load, tempco_ppm_k: 100 } };
  const body = async (rise: number | null) => (await bodyOf(fresh, usedNow(measured, { load_rise_k: rise } as SetupCheck))).body;
  expect(await body(12)).toMatchObject({ load_tempco_ppm_k: 100, load_rise_k: 12 });
  expect(Object.keys(await body(null)).filter((name) => /tempco|rise/.test(name))).toEqual([]);
});
