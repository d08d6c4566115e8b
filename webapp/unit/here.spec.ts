import { expect, test } from "@playwright/test";
import { shifts, zoneNow } from "../src/core/here";

const own = process.env.TZ;

test.afterEach(() => {
  if (own === undefined) delete process.env.TZ;
  else process.env.TZ = own;
});

/** The shifts in a year, as text. */
function shiftsOf(zone: string, year: number): [string, number][] {
  process.env.TZ = zone;
  return shifts()
    .map(({ from_ms, east_min }): [string, number] => [new Date(from_ms).toISOString(), east_min])
    .filter(([from]) => from.startsWith(`${year}`));
}

test("shifts are found to the minute", () => {
  expect(shiftsOf("Europe/Berlin", 2026)).toEqual([["2026-03-29T01:00:00.000Z", 120], ["2026-10-25T01:00:00.000Z", 60]]);
  expect(shiftsOf("America/Los_Angeles", 2026)).toEqual([["2026-03-08T10:00:00.000Z", -420], ["2026-11-01T09:00:00.000Z", -480]]);
  expect(shiftsOf("Pacific/Auckland", 2026)).toEqual([["2026-04-04T14:00:00.000Z", 720], ["2026-09-26T14:00:00.000Z", 780]]);
  expect(shiftsOf("Australia/Lord_Howe", 2026)).toEqual([["2026-04-04T15:00:00.000Z", 630], ["2026-10-03T15:30:00.000Z", 660]]);
  // summer time was let go for a month of fasting, and began at one minute past midnight
  expect(shiftsOf("Africa/Cairo", 2010).map(([, east]) => east)).toEqual([180, 120, 180, 120]);
  expect(shiftsOf("America/St_Johns", 2006)).toEqual([["2006-04-02T03:31:00.000Z", -150], ["2006-10-29T02:31:00.000Z", -210]]);
});

test("a place without summer time has one offset", () => {
  process.env.TZ = "Asia/Kolkata";
  expect(shifts()).toEqual([{ from_ms: Date.UTC(1980, 0), east_min: 330 }]);
  process.env.TZ = "UTC";
  expect(shifts()).toEqual([{ from_ms: Date.UTC(1980, 0), east_min: 0 }]);
});

for (const zone of ["Europe/Berlin", "America/New_York", "Pacific/Chatham", "Africa/Casablanca", "Pacific/Apia"]) {
  test(`every hour of three years has its offset in ${zone}`, () => {
    process.env.TZ = zone;
    const list = shifts();
    const wrong: string[] = [];
    for (let ms = Date.UTC(2010, 11); ms < Date.UTC(2013, 11); ms += 3_600_000) {
      const shift = list.findLast(({ from_ms }) => from_ms <= ms);
      if (shift?.east_min !== -new Date(ms).getTimezoneOffset()) wrong.push(new Date(ms).toISOString());
    }
    expect(wrong).toEqual([]);
  });
}

test("a journey is noticed, a change of the clocks at home is none", () => {
  const zones = ["UTC", "Europe/London", "Europe/Berlin", "Africa/Lagos", "America/New_York", "Pacific/Auckland"].map((zone) => {
    process.env.TZ = zone;
    return zoneNow();
  });
  expect(new Set(zones).size).toBe(zones.length);
});
