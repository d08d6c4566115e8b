import { expect, test } from "@playwright/test";
import { daysAgo, pair, percent, quantity } from "../src/ui/format";

// Two significant digits of the uncertainty, and the value to the same place:
// JCGM 100:2008 (GUM), clause 7.2.6.
test("value and uncertainty end at the same digit", () => {
  expect(pair(0.10231, 0.02766)).toEqual(["0.102", "0.028"]);
  expect(pair(0.13272, 0.00728)).toEqual(["0.1327", "0.0073"]);
  expect(pair(0.28, 0.01012)).toEqual(["0.280", "0.010"]);
  expect(pair(0.28, 0.0999)).toEqual(["0.28", "0.10"]); // rounds up to one place fewer
  expect(pair(0.28, 0.0994)).toEqual(["0.280", "0.099"]);
  expect(pair(12.34, 3.21)).toEqual(["12.3", "3.2"]);
  expect(pair(123.4, 32.1)).toEqual(["123", "32"]);
  expect(pair(-0.0123, 0.02)).toEqual(["−0.012", "0.020"]);
});

test("a quantity keeps three digits and its unit on one line", () => {
  expect(quantity(1.2709, "A")).toBe("1.27\u00a0A");
  expect(quantity(16.146, "W")).toBe("16.1\u00a0W");
  expect(quantity(0.1301, "V")).toBe("0.130\u00a0V");
  expect(quantity(1234, "J")).toBe("1234\u00a0J");
  expect(quantity(0, "V")).toBe("0\u00a0V");
});

test("chances are never called certain", () => {
  expect(percent(1)).toBe("more than 99\u00a0%");
  expect(percent(0.996)).toBe("more than 99\u00a0%");
  expect(percent(0.43)).toBe("43\u00a0%");
  expect(percent(0)).toBe("less than 1\u00a0%");
});

// The nights on which the clocks of central Europe change: 29 March and 25 October 2026.
test("days are those of the calendar, also where one has 23 or 25 hours", () => {
  const zone = process.env.TZ;
  process.env.TZ = "Europe/Berlin";
  try {
    const local = (month: number, day: number, hour: number, minute = 0) => new Date(2026, month - 1, day, hour, minute).getTime();
    expect(local(3, 30, 0) - local(3, 29, 0), "the zone is in force").toBe(23 * 3_600_000);
    expect(daysAgo(local(11, 25, 0, 1), local(11, 25, 23, 59))).toBe("today");
    expect(daysAgo(local(11, 24, 23, 59), local(11, 25, 0, 1))).toBe("yesterday");
    expect(daysAgo(local(11, 25, 9), local(11, 25, 8))).toBe("today"); // another phone's clock is a little ahead
    expect(daysAgo(local(3, 28, 12), local(3, 29, 12))).toBe("yesterday"); // 23 hours
    expect(daysAgo(local(3, 22, 0), local(3, 29, 23, 59))).toBe("7 days ago");
    expect(daysAgo(local(3, 28, 0), local(3, 30, 0))).toBe("2 days ago"); // 47 hours
    expect(daysAgo(local(10, 25, 0), local(10, 25, 23, 59))).toBe("today"); // almost 25 hours
    expect(daysAgo(local(10, 24, 23), local(10, 26, 0))).toBe("2 days ago"); // 26 hours
  } finally {
    if (zone === undefined) delete process.env.TZ;
    else process.env.TZ = zone;
  }
});
