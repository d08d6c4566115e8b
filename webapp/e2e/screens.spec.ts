// Every screen, in its states: for a thumb, for a keyboard, for a screen
// reader, in a bright hall and at night. A new screen gets a row here.

import { addNote, addPack, changeTeam, expectReady, field, fillAll, lamp, open, quickTest } from "./support/app";
import { test as fieldTest } from "./support/field";
import { faultsOf, inspect, tabTo } from "./support/inspect";
import { leaveUnsent, notes } from "./support/journal";
import { csvFile, driveLog } from "./support/runs";
import { expect, type Page, test } from "./support/test";

test.describe.configure({ mode: "parallel" }); // the longest files: else they run on when all others are done

/** unfold opens everything that is folded away. */
async function unfold(page: Page): Promise<void> {
  await page.evaluate(() => document.querySelectorAll("details").forEach((folded) => (folded.open = true)));
}

async function look(page: Page, path: string, heading: string | RegExp): Promise<void> {
  await page.goto(path);
  await expectReady(page);
  await expect(page.getByRole("heading", { level: 1 })).toHaveText(heading);
  await unfold(page);
  await inspect(page, path);
  const main = page.locator(".button.main:visible").last();
  if ((await main.count()) > 0) await tabTo(page, path, main);
}

test("the inspection itself notices what is wrong", async ({ page }) => {
  await open(page);
  await page.evaluate(() => {
    const add = (html: string) => document.querySelector("main")?.insertAdjacentHTML("beforeend", html);
    add('<input class="faulty">');
    add('<button type="button" class="faulty">x</button>');
    add('<p class="faulty">pale</p>');
    add('<button type="button" class="faulty">y</button>');
    add("<h5>two levels too low</h5>");
    for (const [i, element] of document.querySelectorAll<HTMLElement>(".faulty").entries()) {
      if (i === 0) element.style.width = "2000px";
      if (i === 1) element.style.cssText = "width: 20px; height: 20px; min-height: 0; padding: 0; margin: 0";
      if (i === 2) element.style.cssText = "color: #6b6b6b; background: #fff"; // 5.3:1
      if (i === 3) element.style.cssText = "width: 47px; height: 47px; min-height: 0; padding: 0; margin: 0";
    }
  });
  const faults = (await faultsOf(page)).join("\n");
  expect(faults).toContain("scrolls sideways at 320 px");
  expect(faults).toContain("scrolls sideways at 1280 px");
  expect(faults).toMatch(/small at 360 px: <button.*: 20 × 20/);
  expect(faults).toMatch(/360 × 740, light: label: <input/);
  expect(faults).toMatch(/small at 360 px: <button.*: 47 × 47/);
  expect(faults).toMatch(/1280 × 800, dark: color-contrast-enhanced: <p/);
  expect(faults).toMatch(/360 × 740, light: heading-order: <h5/);
});

test("first start", async ({ page }) => {
  await open(page);
  await inspect(page, "welcome");
  await tabTo(page, "welcome", page.getByRole("link", { name: "Add the first pack" }));
  await look(page, "/p/000000", "No pack 000000 here");
  await look(page, "/no/such/screen", "Nothing here");
});

test("a fleet with everything in it", async ({ page }) => {
  test.setTimeout(300_000);
  await open(page);
  const good = await addPack(page, { name: "Blue 1" });
  const swollen = await addPack(page, { name: "Blue 2" });
  await addPack(page, { name: "Blue 3" });
  const tested = await quickTest(page, good, "12.84", "12.71");
  await quickTest(page, good, "12.90", "12.85");
  const mistaken = await quickTest(page, good, "12.9", "11.9");
  await page.getByRole("button", { name: "Void this test as mistaken" }).click();
  await expect(page.getByText("Voided: it does not count.")).toBeVisible();
  await addNote(page, good, "connector looks worn");
  await page.goto(`/p/${swollen}/finding`);
  await page.getByRole("radio", { name: "Swollen" }).check();
  await page.getByRole("button", { name: "Save finding" }).click();
  await expect(page).toHaveURL(`/p/${swollen}`);
  await page.goto(`/p/${good}/edit`);
  await fillAll(page, { name: "Blue 1b" });
  await page.getByRole("button", { name: "Save changes" }).click();
  await expect(page).toHaveURL(`/p/${good}`);
  // one entry that the server will refuse
  await leaveUnsent(page, notes(1).map((entry) => ({ ...entry, body: {} })));
  await page.reload();
  await expect(lamp(page)).toHaveText("1 refused");

  await look(page, "/", "Packs");
  await look(page, "/add", "Add a pack");
  await look(page, `/p/${good}`, `Blue 1b ${good}`);
  await look(page, `/p/${swollen}`, `Blue 2 ${swollen}`);
  await look(page, `/p/${good}/edit`, "Change Blue 1b");
  await look(page, `/p/${good}/finding`, "What did you see?");
  await look(page, `/p/${good}/health`, "Health of Blue 1b");
  await look(page, `/p/${good}/wiggle`, "Wiggle test");
  await look(page, `/p/${good}/repair`, "What was repaired?");
  await look(page, `/p/${good}/lead`, "The lead of Blue 1b");
  await look(page, `/p/${good}/label`, "Label of Blue 1b");
  await look(page, `/p/${good}/test/${tested}`, "Test of Blue 1b");
  await look(page, `/p/${good}/test/${mistaken}`, "Test of Blue 1b");
  await look(page, `/p/${swollen}/test`, "Is this what you have?"); // a safety finding stops it
  await look(page, "/scan", "Scan a label");
  await look(page, "/paper", "Paper");
  await look(page, "/setup", "Set-up");
  await look(page, "/setup/team", "Meter, load and limits");
  await look(page, "/setup/season", "Season");
  await look(page, "/setup/stored", "What is stored where");
  await look(page, "/setup/journal", "Read a saved journal");
  await look(page, "/setup/devices", "Devices");
  await look(page, "/setup/wipe", "Wipe this device");
  await look(page, "/join", "Join the team");
  await look(page, "/take", "Take over readings");
  await look(page, "/handover", "Hand over readings");
  await look(page, "/unsent", "Unsent and refused");
});

/** answerIs has one route of the API answer so. */
async function answerIs(page: Page, route: string, answer: object): Promise<void> {
  await page.addInitScript(
    ({ route, answer }) => {
      const { fetch } = window;
      window.fetch = (input, init) => (String(input).endsWith(route) ? Promise.resolve(Response.json(answer)) : fetch(input, init));
    },
    { route, answer },
  );
}

test("an app that is too old for the server", async ({ page }) => {
  await answerIs(page, "/api/v1/health", { ok: true, joined: true, role: "lead", api: 2, min_client: 2, welcome: "" });
  await open(page);
  await addPack(page, { name: "Blue 6" });
  await expect(lamp(page)).toHaveText("Update the app");
  await look(page, "/unsent", "Unsent and refused");
  await expect(page.getByText("1 entry not yet on the server.")).toBeVisible();
  await page.getByRole("button", { name: "Reload the app" }).click();
  await expect(lamp(page)).toHaveText("Update the app"); // there is no newer one here
});

test("the exchange with another server, held up", async ({ page }) => {
  test.setTimeout(120_000);
  const why = "only a lead may change the team's settings";
  await answerIs(page, "/api/v1/upstream", {
    upstream: "https://workshop-of-the-school.local:8443",
    role: "crew",
    reachable: false,
    to_send: 12,
    to_fetch: 3,
    last_ms: 1764060000000,
    next_ms: Date.now() + 60_000,
    problem: { kind: "not_found", text: "workshop-of-the-school.local did not answer in time", hint: "is it switched on?" },
    held_back: Array.from({ length: 11 }, (_, i) => ({ id: `01KAXW5Y00000000000000000${i.toString(16).toUpperCase()}`, way: "up", status: "refused", reason: why, seen_ms: 1 })),
    held_back_total: 14,
  });
  await open(page);
  await look(page, "/setup", "Set-up");
  const panel = page.getByRole("region", { name: "The other server" });
  for (const words of ["not in reach", "12 entries", "3 entries or more", "did not answer in time", "Is it switched on?", "14 entries held back", "And 4 others."]) {
    await expect(panel).toContainText(words);
  }
  await expect(panel.getByText(`The other server did not take it: ${why}.`)).toHaveCount(10);
});

test("without another server Set-up says nothing of one", async ({ page }) => {
  await open(page);
  const asked = page.waitForResponse((response) => response.url().endsWith("/api/v1/upstream"));
  await page.goto("/setup");
  expect(((await (await asked).json()) as { upstream: string }).upstream).toBe("");
  await expect(page.getByRole("region", { name: "Sync and storage" })).toBeVisible();
  await expect(page.getByRole("region", { name: "The other server" })).toHaveCount(0);
});

test("the quick form with each method, empty and complained about", async ({ page }) => {
  test.setTimeout(300_000);
  await open(page);
  const code = await addPack(page, { name: "Blue 4" });
  for (const method of ["known-load", "two-loads", "measured-current", "direct-ac", "direct-dc"]) {
    await page.goto(`/p/${code}/quick`);
    await field(page, "method").selectOption(method);
    await page.getByRole("button", { name: "Save test" }).click();
    await expect(page.locator("[aria-invalid=true]").first()).toBeVisible();
    await unfold(page);
    await inspect(page, `quick form, ${method}`);
  }
  await tabTo(page, "quick form", page.getByRole("button", { name: "Save test" }));
});

test("each step of the guided test", async ({ page }) => {
  test.setTimeout(300_000);
  await open(page);
  await changeTeam(page, { read_after_s: "1", repeats: "2" });
  const code = await addPack(page, { name: "Blue 5" });
  await page.goto(`/p/${code}/test`);
  const step = async (heading: string, button: string) => {
    await expect(page.getByRole("heading", { level: 1 })).toHaveText(heading);
    await unfold(page);
    await inspect(page, heading);
    await tabTo(page, heading, page.getByRole("button", { name: button }));
    await page.keyboard.press("Enter");
  };
  await step("Is this what you have?", "Yes, go on");
  await step("Before you connect", "I have read this");
  await step("How is the pack?", "Next: open-circuit reading");
  await field(page, "open_v").fill("12.84");
  await step("Open-circuit voltage", "Next: connect the load");
  await step("Ready to connect?", "Start the clock");
  await inspect(page, "the clock");
  await step("Take the load off now", "Load is off");
  await field(page, "loaded_v").fill("12.71");
  await step("Voltage on load", "Keep this reading");
  await step("Reading 1 of 2 done", "Finish now");
  await expect(page.getByRole("region", { name: "Result" })).toBeVisible();
  await step("Result", "Save test");
  await expect(page.getByText("Test saved on this device")).toBeVisible();
});

fieldTest("a phone on a network: before it joins, as crew and as lead, signed out, wiped", async ({ field: network, fieldPhone }) => {
  fieldTest.setTimeout(300_000);
  const page = await (await fieldPhone("trusting")).newPage();
  await look(page, "/", "Not joined yet");
  await look(page, "/join", "Join the team");
  await page.getByRole("button", { name: "Join", exact: true }).click();
  await expect(page.locator("[aria-invalid=true]").first()).toBeVisible();
  await inspect(page, "join, complained about");
  await page.goto(await network.invite());
  await fillAll(page, { name: "pit phone 2" });
  await page.getByRole("button", { name: "Join", exact: true }).click();
  await expect(page.getByText("This device has joined as pit phone 2.")).toBeVisible();
  await look(page, "/join", "Joined");
  await look(page, "/setup", "Set-up");
  await look(page, "/setup/team", "Meter, load and limits");
  await network.change("pit phone 2", { role: "lead" });
  await page.goto("/setup/devices");
  await page.getByRole("button", { name: "Show a code" }).click();
  await expect(page.getByRole("timer")).toBeVisible();
  await expect(page.getByText("pit phone 2 (this device)")).toBeVisible();
  await unfold(page);
  await page.getByRole("button", { name: "Take off the list" }).click();
  await expect(page.getByRole("button", { name: "Yes, take off" })).toBeVisible();
  await inspect(page, "devices with an invitation and a question");
  await page.getByRole("button", { name: "Yes, take off" }).click();
  await expect(lamp(page)).toHaveText("Taken off the list", { timeout: 90_000 }); // with the next probe
  await look(page, "/", "Taken off the list");
  await look(page, "/setup", "Set-up");
  await look(page, "/join", "Join the team");
  await look(page, "/unsent", "Unsent and refused");
  await page.goto("/take#" + Buffer.from(JSON.stringify([notes(1)[0], 7])).toString("base64url"));
  await expect(page.getByRole("button", { name: "Keep 1 entry here" })).toBeVisible();
  await inspect(page, "take over");
  await page.getByRole("button", { name: "Keep 1 entry here" }).click();
  await expect(page.getByRole("heading", { name: "Taken over" })).toBeVisible();
  await inspect(page, "taken over");
  await page.goto("/setup/wipe");
  await page.getByRole("checkbox").check();
  await page.getByRole("button", { name: "Wipe this device" }).click();
  await inspect(page, "wipe, asked");
  await page.getByRole("button", { name: "Wipe now" }).click();
  await expect(page.getByRole("heading", { name: "Wiped" })).toBeVisible();
  await inspect(page, "wiped");
});

fieldTest("over plain http", async ({ field: network, fieldPhone }) => {
  fieldTest.setTimeout(300_000);
  const page = await (await fieldPhone("trusting", network.plain)).newPage();
  await look(page, "/index.html", "Test a pack");
  await look(page, "/scan", "Scan a label");
  await field(page, "code").fill("7K3QXX");
  await page.getByRole("button", { name: "Open pack" }).click();
  await expect(page.getByRole("link", { name: "Test pack 7K3QXX, step by step" })).toBeVisible();
  await inspect(page, "an unknown label");
  await look(page, "/p/7K3QXX/test", "Is this what you have?");
  await look(page, "/p/7K3QXX/quick", "Quick form, 7K3QXX");
  await quickTest(page, "7K3QXX", "12.84", "12.71");
  await look(page, "/p/7K3QXX/quick", "Quick form, 7K3QXX");
  await look(page, "/handover", "Hand over readings");
  await look(page, "/unsent", "Unsent and refused");
  await look(page, "/setup", "Set-up");
  await look(page, "/setup/devices", "Devices");
  await look(page, "/join", "Join the team");
});

test("what the scanner may say", async ({ page }) => {
  await open(page);
  await page.goto("/scan");
  await page.getByRole("button", { name: "Start camera" }).click();
  await expect(page.getByText(/^No camera/)).toBeVisible();
  await field(page, "code").fill("ABC");
  await page.getByRole("button", { name: "Open pack" }).click();
  await expect(field(page, "code")).toHaveAttribute("aria-invalid", "true");
  await inspect(page, "scanner with two complaints");
  await tabTo(page, "scanner", page.getByRole("button", { name: "Open pack" }));
});

test("runs, charges, the board and old tests", async ({ page }) => {
  test.setTimeout(300_000);
  await open(page);
  const code = await addPack(page, { name: "Blue 7", capacity_ah: "3", fuse_a: "20" });
  await quickTest(page, code, "12.84", "12.71");
  await page.goto(`/p/${code}/charges`);
  await fillAll(page, { started_at: "2026-03-10T10:00", put_in_ah: "0.3", missing_ah: "2.5" });
  await page.getByRole("radio", { name: "Not known" }).check();
  await page.getByRole("button", { name: "Save charge" }).click();
  await expect(page.getByText("Charge saved on this device")).toBeVisible();
  await look(page, `/p/${code}/charges`, "Charges of Blue 7");
  await look(page, "/board", "Fleet board");
  await look(page, "/import", "Read in old tests");
  await page.locator('[name="table"]').setInputFiles(
    csvFile("old.csv", "pack,date,open voltage (V),loaded voltage (V),remark\nBlue 7,2025-09-03,12.84,12.71,ok\nBlue 8,soon,x,12.71,?\n"),
  );
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("Is it read rightly?");
  await inspect(page, "/import, matching");

  await look(page, `/p/${code}/run`, "Runs of Blue 7");
  await page.locator('[name="log"]').setInputFiles(csvFile("drive.csv", driveLog(2000).replace("0.50,", "x,")));
  await expect(page.getByRole("button", { name: "Read the whole file" })).toBeVisible();
  await unfold(page);
  await inspect(page, "/run, a file");
  await page.getByRole("button", { name: "Read the whole file" }).click();
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("What the file shows");
  await unfold(page);
  await inspect(page, "/run, what a file shows");
  await page.getByRole("button", { name: "Save run" }).click();
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("On the robot, Blue 7");
  await look(page, new URL(page.url()).pathname, "On the robot, Blue 7");

  await page.goto(`/p/${code}/run`);
  await page.getByRole("button", { name: "Capacity check" }).click();
  await expect(page.getByText("Do not connect this.")).toBeVisible();
  await inspect(page, "/run, set-up");
  await page.getByText("The load sits on a heat sink").click();
  await field(page, "rating_w").fill("50");
  await page.getByRole("radio", { name: "Fully charged, rested" }).check();
  await page.getByRole("button", { name: "Yes, go on" }).click();
  await expect(page.getByText("Never leave it alone.")).toBeVisible();
  await inspect(page, "/run, cautions");
  await page.getByRole("button", { name: "The load is on: start" }).click();
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("Read the meter now");
  await inspect(page, "/run, a reading is due");
  for (const volts of ["12.6", "9.5"]) {
    await field(page, "volts").fill(volts);
    await page.getByRole("button", { name: "Keep this reading" }).click();
    if (volts === "9.5") break;
    await expect(page.getByRole("heading", { level: 1 })).toHaveText("Logging");
    await unfold(page);
    await inspect(page, "/run, logging");
  }
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("Take the load off at once");
  await inspect(page, "/run, stop");
  await page.getByRole("button", { name: "The load is off" }).click();
  await expect(page.getByRole("region", { name: "Result" })).toBeVisible();
  await unfold(page);
  await inspect(page, "/run, result");
});
