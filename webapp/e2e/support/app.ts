// What a person does with the app, in the words they see.

import { expect, type Page } from "@playwright/test";

/** open goes to a path and waits until the journal is read; online it also waits until the app is kept for offline use. */
export async function open(page: Page, path = "/"): Promise<void> {
  await page.goto(path);
  await expectReady(page);
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null, null, { timeout: 60_000 }); // it fetches the whole app
}

/** expectReady waits until the core has the phone's journal. */
export async function expectReady(page: Page): Promise<void> {
  await expect(lamp(page)).not.toHaveText("Starting");
}

/** lamp is what always stands at the top: how much is not yet on the server. */
export function lamp(page: Page) {
  return page.locator("header a.lamp");
}

export interface PackTexts {
  name: string;
  capacity_ah?: string;
  fuse_a?: string;
}

/** addPack fills in the form of a new pack, saves it, and gives its code. */
export async function addPack(page: Page, texts: PackTexts): Promise<string> {
  if (new URL(page.url()).pathname !== "/") await open(page);
  await page.getByRole("link", { name: /^Add (the first )?pack$/ }).click();
  await expect(page.getByRole("heading", { name: "Add a pack" })).toBeVisible();
  const code = (await page.locator("strong.code").textContent()) ?? "";
  await fillAll(page, texts as unknown as Record<string, string>);
  await page.getByRole("button", { name: "Save pack" }).click();
  await expect(page).toHaveURL(`/p/${code}`);
  await expect(page.getByRole("heading", { level: 1 })).toContainText(texts.name);
  return code;
}

/** fillAll types into fields by the name of what they fill. */
export async function fillAll(page: Page, texts: Record<string, string>): Promise<void> {
  for (const [name, text] of Object.entries(texts)) await field(page, name).fill(text);
}

/** field is the input that fills what name says, such as "open_v". */
export function field(page: Page, name: string) {
  return page.locator(`[name="${name}"]`);
}

/** changeTeam changes shared settings through the Set-up screen. */
export async function changeTeam(page: Page, texts: Record<string, string>): Promise<void> {
  await page.goto("/setup/team");
  await expect(field(page, "ohm")).toBeVisible();
  await fillAll(page, texts);
  await page.getByRole("button", { name: "Save for the team" }).click();
  await expect(page).toHaveURL("/setup");
}

/** startGuided opens the guided test of a pack and goes as far as the first reading. */
export async function startGuided(page: Page, code: string): Promise<void> {
  if (new URL(page.url()).pathname !== `/p/${code}`) await page.goto(`/p/${code}`);
  await page.getByRole("link", { name: "Start test" }).click();
  await expect(page.getByRole("heading", { name: "Is this what you have?" })).toBeVisible();
  await page.getByRole("button", { name: "Yes, go on" }).click();
  const read = page.getByRole("button", { name: "I have read this" });
  const next = page.getByRole("button", { name: "Next: open-circuit reading" });
  await expect(read.or(next)).toBeVisible();
  if (await read.isVisible()) await read.click(); // asked once a day
  await next.click();
}

/** guidedReading is one pair of readings with the app's own clock; it ends at "Repeat or finish". */
export async function guidedReading(page: Page, open: string, loaded: string, wait = realTime): Promise<void> {
  await expect(page.getByRole("heading", { name: "Open-circuit voltage" })).toBeVisible();
  await page.getByLabel("Meter shows, load off").fill(open);
  await page.getByRole("button", { name: "Next: connect the load" }).click();
  await page.getByRole("button", { name: "Start the clock" }).click();
  await wait(page);
  await page.getByRole("button", { name: "Load is off" }).click();
  await page.getByLabel("Meter showed, load on").fill(loaded);
  await page.getByRole("button", { name: "Keep this reading" }).click();
  await expect(page.getByRole("heading", { name: /done$/ })).toBeVisible();
}

/** realTime lives through the time from the start of the clock to the reading second. */
export async function realTime(page: Page): Promise<void> {
  await expect(page.getByRole("heading", { name: "Connect now" })).toBeVisible();
  await expect(page.getByRole("heading", { name: "Read now" })).toBeVisible();
}

/** hurry is realTime run fast, for tests about something else: page.clock must be installed and the reading second be 1. */
export async function hurry(page: Page): Promise<void> {
  await page.clock.runFor(5500); // 4 s to take up the clip, 1 s on load
}

/** quickTest saves a test by the quick form and gives the id of its entry. */
export async function quickTest(page: Page, code: string, open: string, loaded: string): Promise<string> {
  await page.goto(`/p/${code}/quick`);
  await fillAll(page, { "open_v.0": open, "loaded_v.0": loaded });
  await expect(page.getByRole("region", { name: "Result" })).toBeVisible();
  await page.getByRole("button", { name: "Save test" }).click();
  await expect(page).toHaveURL(new RegExp(`/p/${code}/test/[0-9A-Z]{26}$`));
  return new URL(page.url()).pathname.split("/").at(-1) ?? "";
}

/** addNote writes a note on a pack. */
export async function addNote(page: Page, code: string, text: string): Promise<void> {
  if (new URL(page.url()).pathname !== `/p/${code}`) await page.goto(`/p/${code}`);
  await field(page, "note").fill(text);
  await page.getByRole("button", { name: "Save note" }).click();
  await expect(page.getByRole("status").filter({ hasText: "Note saved" })).toBeVisible();
  await expect(page.getByText(text, { exact: true })).toBeVisible();
}

/** crash kills the tab's process, as a phone does that is short of memory. */
export async function crash(page: Page): Promise<void> {
  const session = await page.context().newCDPSession(page);
  const crashed = page.waitForEvent("crash");
  session.send("Page.crash").catch(() => {}); // it never answers
  await crashed;
  await page.close();
}
