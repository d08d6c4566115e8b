// Bad input in every field: said beside the field, nothing typed is lost, and
// nothing is saved. Comma and point are both a decimal sign.

import { addPack, changeTeam, field, fillAll, hurry, open } from "./support/app";
import { draftOf, phoneEntries } from "./support/journal";
import { expect, type Locator, type Page, test } from "./support/test";

test.describe.configure({ mode: "parallel" }); // the longest files: else they run on when all others are done

/** Texts that are no number, whatever is asked for. */
const nonsense = ["abc", "1.2.3", "1 2", "1e3", "--", "12.84 parsec"];

/** expectComplaint wants a message beside the field, tied to it for screen readers, and the text still there. */
async function expectComplaint(page: Page, name: string, typed: string): Promise<void> {
  const input = field(page, name);
  await expect(input, `${name} with ${typed}`).toHaveAttribute("aria-invalid", "true");
  await expect(input).toHaveValue(typed);
  const described = ((await input.getAttribute("aria-describedby")) ?? "").split(" ").at(-1) ?? "";
  const complaint = page.locator(`[id="${described}"]`);
  await expect(complaint).toBeVisible();
  await expect(complaint).toHaveText(/\w{3}/);
}

/** refuses tries to save with one field wrong at a time, over all the texts, and wants each refused. */
async function refuses(page: Page, save: Locator, names: string[], texts = nonsense): Promise<void> {
  const before = (await phoneEntries(page)).length;
  const path = new URL(page.url()).pathname;
  for (const [i, name] of names.entries()) {
    const good = await field(page, name).inputValue();
    const typed = texts[i % texts.length] ?? "";
    await field(page, name).fill(typed);
    await save.click();
    await expectComplaint(page, name, typed);
    await expect(field(page, name), "the first field with a complaint has the focus").toBeFocused();
    await field(page, name).fill(good);
    await expect(field(page, name)).not.toHaveAttribute("aria-invalid", "true");
  }
  expect(new URL(page.url()).pathname).toBe(path);
  expect(await phoneEntries(page)).toHaveLength(before);
}

/** refusesAll tries to save with all fields wrong at once. */
async function refusesAll(page: Page, save: Locator, names: string[]): Promise<void> {
  const typed = Object.fromEntries(names.map((name, i) => [name, nonsense[i % nonsense.length] ?? ""]));
  await fillAll(page, typed);
  await save.click();
  for (const name of names) await expectComplaint(page, name, typed[name] ?? "");
}

test("a pack's profile", async ({ page }) => {
  await open(page);
  await page.goto("/add");
  await page.getByText("Lead and connector").click();
  const save = page.getByRole("button", { name: "Save pack" });
  const numbers = ["capacity_ah", "cells", "fuse_a", "lead_mm2", "lead_length_mm"];
  await save.click();
  await expectComplaint(page, "name", "");
  await fillAll(page, { name: "Red 5" });
  await refuses(page, save, numbers);
  await refuses(page, save, ["capacity_ah", "cells", "fuse_a"], [""]); // needed
  await refuses(page, save, ["cells"], ["10.5"]); // whole numbers
  await refuses(page, save, ["capacity_ah", "lead_mm2"], ["-3"]);
  await refusesAll(page, save, numbers);
  await fillAll(page, { capacity_ah: "3,3", cells: "10", fuse_a: "20", lead_mm2: "2.5", lead_length_mm: "30 cm", connector: "ring ø 5 “blå”" });
  await save.click();
  await expect(page).toHaveURL(/\/p\/[0-9A-Z]{6}$/);
  const [added] = await phoneEntries(page);
  expect(added?.body).toEqual({
    name: "Red 5",
    capacity_ah: 3.3,
    cells: 10,
    fuse_a: 20,
    lead_mm2: 2.5,
    lead_length_mm: 300,
    connector: "ring ø 5 “blå”",
  });

  await page.getByRole("link", { name: "Change profile" }).click();
  await page.getByText("Lead and connector").click();
  const change = page.getByRole("button", { name: "Save changes" });
  await refuses(page, change, numbers);
  await refuses(page, change, ["name", "capacity_ah"], [""]);
  await refusesAll(page, change, numbers);
});

test("what no pack can be is refused in words", async ({ page }) => {
  await open(page);
  await page.goto("/add");
  const save = page.getByRole("button", { name: "Save pack" });
  await fillAll(page, { name: "Red 6" });
  const impossible: [string, string][] = [
    ["capacity_ah", "0"],
    ["capacity_ah", "900000"],
    ["cells", "0"],
    ["cells", "4000"],
    ["fuse_a", "100000"],
  ];
  for (const [name, text] of impossible) {
    const good = await field(page, name).inputValue();
    await field(page, name).fill(text);
    await save.click();
    await expect.soft(page.getByText(/^Not saved/).or(page.locator(".complaint")).first(), `${name} ${text}`).toBeVisible();
    await expect.soft(field(page, name), `${name} ${text}: said beside the field`).toHaveAttribute("aria-invalid", "true");
    expect(await phoneEntries(page), `${name} ${text}`).toEqual([]);
    await field(page, name).fill(good);
  }
});

test("the team's set-up", async ({ page }) => {
  await open(page);
  await page.goto("/setup/team");
  const save = page.getByRole("button", { name: "Save for the team" });
  const needed = [
    ...["reading_pct", "counts", "resolution_v", "ohm", "competition_ohm", "rest_v", "brownout_v", "peak_a"],
    ...["read_after_s", "repeats", "rest_min", "retest_days"],
  ];
  const numbers = [...needed, "tolerance_pct", "uncertainty_ohm", "tempco_ppm_k", "lead_ohm", "rating_w", "practice_ohm"];
  await expect(field(page, "ohm")).toHaveValue("10");
  await refuses(page, save, numbers);
  await refuses(page, save, needed, [""]);
  await refuses(page, save, ["ohm", "rating_w", "repeats"], ["-1"]);
  const typed = { ohm: "2,5", tolerance_pct: "1", repeats: "5", base_url: "https://pit.local", name: "Robotik-AG “Ørsted”" };
  await fillAll(page, typed);
  await save.click();
  await expect(page).toHaveURL("/setup");
  const [changed] = await phoneEntries(page);
  expect(changed?.kind).toBe("team-changed");
  expect(changed?.body).toMatchObject({ name: "Robotik-AG “Ørsted”", base_url: "https://pit.local", repeats: 5 });
  expect((changed?.body.load as { ohm: number }).ohm).toBe(2.5);
});

test("what no set-up can be is refused in words", async ({ page }) => {
  await open(page);
  const impossible: Record<string, string>[] = [
    { repeats: "0" },
    { repeats: "1000" },
    { ohm: "0" },
    { competition_ohm: "0" },
    { resolution_v: "0" },
    { brownout_v: "14" }, // above the pack's own voltage
    { tolerance_pct: "1", uncertainty_ohm: "0.01" }, // one or the other
    { base_url: "javascript:alert(1)" },
    { base_url: "not an address" },
  ];
  for (const texts of impossible) {
    await page.goto("/setup/team");
    const afresh = page.getByRole("button", { name: "Start afresh" });
    await expect(field(page, "ohm")).not.toHaveValue("");
    if (await afresh.isVisible()) await afresh.click();
    await fillAll(page, texts);
    await page.getByRole("button", { name: "Save for the team" }).click();
    const what = JSON.stringify(texts);
    await expect.soft(page.getByText(/^Not saved/).or(page.locator(".complaint")).first(), what).toBeVisible();
    expect.soft(new URL(page.url()).pathname, what).toBe("/setup/team");
    expect.soft(await phoneEntries(page), what).toEqual([]);
    for (const [name, text] of Object.entries(texts)) expect.soft(await field(page, name).inputValue().catch(() => "gone"), what).toBe(text);
  }
});

test("the guided test", async ({ page }) => {
  await page.clock.install();
  await open(page);
  await changeTeam(page, { read_after_s: "1", repeats: "1" });
  const code = await addPack(page, { name: "Red 7" });
  await page.getByRole("link", { name: "Start test" }).click();
  await page.getByRole("button", { name: "Yes, go on" }).click();
  await page.getByRole("button", { name: "I have read this" }).click();
  const next = page.getByRole("button", { name: "Next: open-circuit reading" });
  await refuses(page, next, ["rested_min", "temperature_c"]);
  await refuses(page, next, ["rested_min"], ["-5"]);
  await fillAll(page, { rested_min: "1,5 h", temperature_c: "21,5" });
  await next.click();

  const connect = page.getByRole("button", { name: "Next: connect the load" });
  await field(page, "open_v").fill("12,84");
  await refuses(page, connect, Array<string>(nonsense.length).fill("open_v"));
  await refuses(page, connect, ["open_v"], [""]);
  await refuses(page, connect, Array<string>(4).fill("open_v"), ["12840", "0.5", "-12.84", "9.0"]); // slips, and a pack too low to test
  await connect.click();
  await page.getByRole("button", { name: "Start the clock" }).click();
  await hurry(page);
  await page.getByRole("button", { name: "Load is off" }).click();

  const keep = page.getByRole("button", { name: "Keep this reading" });
  await field(page, "loaded_v").fill("12.71");
  await refuses(page, keep, Array<string>(nonsense.length).fill("loaded_v"));
  await refuses(page, keep, Array<string>(3).fill("loaded_v"), ["12.95", "0", "-12.7"]); // more than open circuit, and slips
  await keep.click();
  await page.getByRole("button", { name: "See the result" }).click();
  await page.getByRole("button", { name: "Save test" }).click();
  await expect(page.getByText("Test saved on this device")).toBeVisible();
  const made = (await phoneEntries(page)).find((entry) => entry.kind === "load-test");
  expect(made?.pack).toBe(code);
  expect(made?.body).toMatchObject({ open_v: [12.84], loaded_v: [12.71], rested_min: 90, temperature_c: 21.5 });
});

test("the quick form with each method", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Red 8" });
  const save = page.getByRole("button", { name: "Save test" });
  const voltmeter = { meter_pct: "0,5", meter_counts: "2", meter_resolution_v: "0.01", read_after_s: "5" };
  const shared = { rested_min: "60", temperature_c: "20" };
  const instrument = { accuracy_pct: "1", counts: "2", resolution_ohm: "0,0001", open_v: "12,8" };
  const methods: [method: string, texts: Record<string, string>][] = Object.entries({
    "known-load": { "open_v.0": "12,84", "loaded_v.0": "12.71", load_ohm: "10", load_tolerance_pct: "1", lead_ohm: "0,01", ...voltmeter },
    "two-loads": { "loaded_1_v.0": "12,71", "loaded_2_v.0": "12.35", load_1_ohm: "10", load_2_ohm: "2,5", load_tolerance_pct: "1", lead_ohm: "0,01", ...voltmeter },
    "measured-current": {
      ...{ "open_v.0": "12,84", "loaded_v.0": "12.71", "current_a.0": "1,27" },
      ...{ current_pct: "1", current_counts: "3", current_resolution_a: "0,01" },
      ...voltmeter,
    },
    "direct-ac": { "resistance_ohm.0": "0,031", ...instrument, frequency_hz: "1 kHz" },
    "direct-dc": { "resistance_ohm.0": "0,095", ...instrument },
  });
  const known = { "open_v.0": "12,84", "loaded_v.0": "12.71", load_ohm: "10", load_tolerance_pct: "", ...voltmeter };
  methods.push(["known-load", { ...known, load_uncertainty_ohm: "0,02" }]); // the load measured
  for (const [method, texts] of methods) {
    await page.goto(`/p/${code}/quick`);
    await field(page, "method").selectOption(method);
    const all = { ...texts, ...shared };
    await refusesAll(page, save, Object.keys(all));
    await fillAll(page, all);
    await refuses(page, save, Object.keys(all));
    await save.click();
    await expect(page, method).toHaveURL(new RegExp(`/p/${code}/test/`));
  }
  const made = (await phoneEntries(page)).slice(1).map(({ kind, body }) => ({ kind, ...body }));
  expect(made).toMatchObject([
    { kind: "load-test", method: "known-load", open_v: [12.84], loaded_v: [12.71], load_ohm: 10, load_tolerance_pct: 1, lead_ohm: 0.01 },
    { kind: "load-test", method: "two-loads", loaded_1_v: [12.71], loaded_2_v: [12.35], load_1_ohm: 10, load_2_ohm: 2.5, load_tolerance_pct: 1, lead_ohm: 0.01 },
    { kind: "load-test", method: "measured-current", open_v: [12.84], loaded_v: [12.71], current_a: [1.27] },
    { kind: "direct-reading", method: "direct-ac", resistance_ohm: [0.031], frequency_hz: 1000, open_v: 12.8 },
    { kind: "direct-reading", method: "direct-dc", resistance_ohm: [0.095], resolution_ohm: 0.0001 },
    { kind: "load-test", method: "known-load", load_ohm: 10, load_uncertainty_ohm: 0.02 },
  ]);
  expect(made.at(-1)).not.toHaveProperty("load_tolerance_pct");
});

test("typed in from paper: the date is needed", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Red 9" });
  await page.goto(`/p/${code}/quick`);
  await fillAll(page, { "open_v.0": "12.84", "loaded_v.0": "12.71" });
  await page.getByText("Typed in from paper").click();
  const save = page.getByRole("button", { name: "Save test" });
  await save.click();
  await expectComplaint(page, "taken_at", "");
  for (const typed of ["0026-11-20T17:30", "1979-12-31T10:00", "9999-12-31T10:00"]) {
    await field(page, "taken_at").fill(typed);
    await save.click();
    await expectComplaint(page, "taken_at", typed);
  }
  expect((await phoneEntries(page)).map((entry) => entry.kind)).toEqual(["pack-added"]);
  await field(page, "taken_at").fill("2026-11-20T17:30");
  await save.click();
  await expect(page).toHaveURL(new RegExp(`/p/${code}/test/`));
  const made = (await phoneEntries(page)).find((entry) => entry.kind === "load-test");
  expect(Date.parse(String(made?.body.taken_at))).toBe(new Date(2026, 10, 20, 17, 30).getTime());
  await expect(page.getByText("20 Nov 2026, 17:30")).toBeVisible();
});

test("notes, findings and their closing need words", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Red 10" });
  await page.getByRole("button", { name: "Save note" }).click();
  await expectComplaint(page, "note", "");
  await page.goto(`/p/${code}/finding`);
  const save = page.getByRole("button", { name: "Save finding" });
  await save.click();
  await expect(page.getByText("Choose what you saw.")).toBeVisible();
  await page.getByRole("radio", { name: "Other danger" }).check();
  await save.click();
  await expectComplaint(page, "text", "");
  await field(page, "text").fill("smells burnt");
  await save.click();
  await expect(page).toHaveURL(`/p/${code}`);
  await page.getByText("Close: it is dealt with").click();
  await page.getByRole("button", { name: "Close finding" }).click();
  const close = await page.locator('[name^="close-"]').getAttribute("name");
  await expectComplaint(page, close ?? "", "");
  expect((await phoneEntries(page)).map((entry) => entry.kind)).toEqual(["pack-added", "inspection"]);
});

test("free words: too long ones are kept and complained about, odd ones are taken as they are", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Red 12" });
  const long = "Ørsted 🔋 ".repeat(23).slice(0, 200);
  const longer = (most: number) => "é🔋".repeat(most / 2) + "!"; // one character more, whatever a character weighs
  const refused: [path: string, name: string, text: string, button: string][] = [
    ["/add", "in_service", "0026-09-01", "Save pack"],
    ["/add", "in_service", "9999-12-31", "Save pack"],
    ["/add", "connector", long, "Save pack"],
    [`/p/${code}/edit`, "connector", long, "Save changes"],
    [`/p/${code}/quick`, "note", longer(4000), "Save test"],
    [`/p/${code}/edit`, "name", long, "Save changes"],
    [`/p/${code}/edit`, "in_service", "0026-09-01", "Save changes"],
    [`/p/${code}/edit`, "in_service", "9999-12-31", "Save changes"],
    ["/setup/team", "name", long, "Save for the team"],
    ["/setup/team", "load_name", long, "Save for the team"],
    ["/setup/team", "base_url", `https://${"pit".repeat(40)}.local`, "Save for the team"],
    ["/setup/team", "base_url", "https://pit.local/packs?q=1", "Save for the team"],
    ["/setup/team", "base_url", "🔋", "Save for the team"],
  ];
  for (const [path, name, text, button] of refused) {
    await page.goto(path);
    if (path === "/add") await fillAll(page, { name: "Red 14" });
    if (path.endsWith("/quick")) await fillAll(page, { "open_v.0": "12.84", "loaded_v.0": "12.71" });
    if (name === "connector") await page.getByText("Lead and connector").click();
    await expect(field(page, name)).toBeVisible();
    await field(page, name).fill(text);
    if (name === "connector") await page.getByText("Lead and connector").click(); // folded again: a complaint unfolds it
    await page.getByRole("button", { name: button }).click();
    await expect(field(page, name), `${path} ${name}`).toBeFocused();
    await expectComplaint(page, name, text);
    const draft = path.startsWith("/p/") ? `${path.split("/").at(-1)}:${code}` : (path.split("/").at(-1) ?? "");
    await expect.poll(async () => JSON.stringify(await draftOf(page, draft))).toContain(JSON.stringify(text));
    await page.reload(); // as a draft it stays, too
    await expect(field(page, name)).toHaveValue(text);
    await page.getByRole("button", { name: "Start afresh" }).click();
    await expect.poll(() => draftOf(page, draft)).toBeNull(); // or the next one finds it too
  }
  expect((await phoneEntries(page)).map((entry) => entry.kind)).toEqual(["pack-added"]);

  await page.goto("/setup/team");
  await fillAll(page, { name: "ロボット部 🔋 “Ørsted” <b>&amp;" });
  await page.getByRole("button", { name: "Save for the team" }).click();
  await expect(page).toHaveURL("/setup");
  await page.goto("/");
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("Packs of ロボット部 🔋 “Ørsted” <b>&amp;");
});

test("too long words of notes, findings and their closing are kept and not saved", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Red 15" });
  const longer = (most: number) => "é🔋".repeat(most / 2) + "!";
  const press = (name: string) => page.getByRole("button", { name }).click();
  const expectRefused = async (name: string, text: string, kinds: string[]) => {
    await expect(field(page, name), name).toBeFocused();
    await expectComplaint(page, name, text);
    await expect(field(page, name)).toHaveAccessibleDescription(/there are \d+ characters, and \d+ are allowed/i);
    expect((await phoneEntries(page)).map((entry) => entry.kind)).toEqual(kinds);
  };
  await field(page, "note").fill(longer(4000));
  await press("Save note");
  await expectRefused("note", longer(4000), ["pack-added"]);
  await field(page, "note").fill("");
  await page.goto("/"); // a note on the fleet
  await field(page, "note").fill(longer(4000));
  await press("Save note");
  await expectRefused("note", longer(4000), ["pack-added"]);
  await field(page, "note").fill(longer(4000).slice(0, -1)); // as long as may be
  await press("Save note");
  await expect(page.getByText("Note saved")).toBeVisible();

  await page.goto(`/p/${code}/finding`);
  await page.getByRole("radio", { name: "Swollen" }).check();
  await field(page, "text").fill(longer(1000));
  await press("Save finding");
  await expectRefused("text", longer(1000), ["pack-added", "note"]);
  await field(page, "text").fill("in the middle");
  await press("Save finding");
  await expect(page).toHaveURL(`/p/${code}`);
  await page.getByText("Close: it is dealt with").click();
  const close = (await page.locator('[name^="close-"]').getAttribute("name")) ?? "";
  await field(page, close).fill(longer(1000));
  await press("Close finding");
  await expectRefused(close, longer(1000), ["pack-added", "note", "inspection"]);
});

test("a note too long for the guided test is said where it is typed, not when the test is done", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Red 16" });
  await page.goto(`/p/${code}/test`);
  await page.getByRole("button", { name: "Yes, go on" }).click();
  await page.getByRole("button", { name: "I have read this" }).click();
  const next = page.getByRole("button", { name: "Next: open-circuit reading" });
  const long = "é🔋".repeat(2000) + "!";
  await field(page, "note").fill(long);
  await next.click();
  await expectComplaint(page, "note", long);
  await expect(field(page, "note")).toBeFocused();
  await field(page, "note").fill(long.slice(0, -1));
  await next.click();
  await expect(page.getByRole("heading", { name: "Open-circuit voltage" })).toBeVisible();
});

test("a load has a tolerance or a measured uncertainty, not both", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Red 17" });
  await page.goto(`/p/${code}/quick`);
  await fillAll(page, { "open_v.0": "12.84", "loaded_v.0": "12.71", load_tolerance_pct: "1", load_uncertainty_ohm: "0,02" });
  await page.getByRole("button", { name: "Save test" }).click();
  await expectComplaint(page, "load_tolerance_pct", "1");
  expect((await phoneEntries(page)).map((entry) => entry.kind)).toEqual(["pack-added"]);
});

test("initials: more than eight characters are said beside the field, and the last good ones stay", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Red 13" });
  await page.goto("/setup");
  const long = "ABCDEFGHIJKLMNOPQRSTUVWXYZABCD";
  await field(page, "initials").fill("KM");
  await field(page, "initials").fill(long);
  await expectComplaint(page, "initials", long);
  await expect(field(page, "initials")).toHaveAccessibleDescription(/30 characters, and 8 are allowed.*KM until then/);
  await page.goto(`/p/${code}`);
  await field(page, "note").fill("saved all the same");
  await page.getByRole("button", { name: "Save note" }).click();
  await expect(page.getByText("Note saved")).toBeVisible();
  expect((await phoneEntries(page)).map((entry) => entry.by)).toEqual(["", "KM"]);
});

test("a code: wrong check character explained, unknown code offers to add the pack", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Red 11" });
  await page.goto("/scan");
  const openPack = page.getByRole("button", { name: "Open pack" });
  const wrong = code.slice(0, 5) + (code.endsWith("7") ? "8" : "7");
  for (const typed of [wrong, "ABC", "", "7K3QX9999", "🔋🔋🔋"]) {
    await field(page, "code").fill(typed);
    await openPack.click();
    await expectComplaint(page, "code", typed);
  }
  await field(page, "code").fill(wrong);
  await openPack.click();
  await expect(page.getByText(/check/i)).toBeVisible();

  // small letters, hyphens, spaces, O for 0 and I for 1 are read as meant
  const sloppy = `${code.slice(0, 3)}-${code.slice(3)} `.toLowerCase().replace("0", "o").replace("1", "i");
  await field(page, "code").fill(sloppy);
  await openPack.click();
  await expect(page).toHaveURL(`/p/${code}`);
});
