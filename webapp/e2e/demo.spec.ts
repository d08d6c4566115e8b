// The invented season: for looking around, and never among real packs.

import { addPack, lamp, open } from "./support/app";
import { phoneEntries } from "./support/journal";
import { expect, test } from "./support/test";

const load = "Load the demo season";
const yes = "Yes, load the invented entries";

test("it loads on an empty fleet, and the server has it whole", async ({ page, server }) => {
  await open(page);
  await page.getByRole("button", { name: load }).click();
  const sure = page.getByRole("alert").filter({ hasText: `sent to the server at ${new URL(server.origin).host}` });
  await expect(sure).toContainText("cannot be taken out of this journal again");
  await expect(sure).toContainText("make run DATA=bin/demo-season LISTEN=127.0.0.1:8099");
  await page.getByRole("button", { name: "No, leave it empty" }).click();
  await expect(sure).toBeHidden();
  expect(await phoneEntries(page)).toEqual([]);
  await page.getByRole("button", { name: load }).click();
  await page.getByRole("button", { name: yes }).click();
  await expect(page.getByText("Demo season loaded")).toBeVisible();
  await expect(page.getByRole("heading", { level: 1 })).toHaveText(/^Packs/);
  expect(await page.locator(".packs > li").count()).toBeGreaterThan(3);
  await expect(lamp(page)).toHaveText("All sent");
  const held = await phoneEntries(page);
  expect((await server.entries()).map((entry) => entry.id).toSorted()).toEqual(held.map((entry) => entry.id).toSorted());
});

test("it is refused while the server is out of reach: real packs may be on it", async ({ page, server }) => {
  await open(page);
  await server.stop();
  await page.getByRole("button", { name: load }).click();
  await expect(page.getByText(/^Not loaded: the server must be reached first/)).toBeVisible();
  expect(await phoneEntries(page)).toEqual([]);
  await server.start();
  await page.getByRole("button", { name: load }).click();
  await page.getByRole("button", { name: yes }).click();
  await expect(page.getByText("Demo season loaded")).toBeVisible();
});

test("it is refused where real packs are, on this phone or only on the server", async ({ page, newPhone, server }) => {
  const waiting = await newPhone(); // stands at the welcome screen and does not hear of the pack
  await open(waiting);
  let deaf = true;
  await waiting.context().route("**/api/**", (route) => (deaf ? route.abort() : route.continue()));
  await waiting.reload();
  await expect(lamp(waiting)).toHaveText("No server");

  await open(page);
  await addPack(page, { name: "Real 1" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto("/");
  await expect(page.getByRole("link", { name: /Real 1/ })).toBeVisible();
  await expect(page.getByRole("button", { name: load })).toBeHidden();

  await expect(waiting.getByRole("heading", { name: "Know your packs" })).toBeVisible();
  deaf = false;
  await waiting.getByRole("button", { name: load }).click();
  await expect(waiting.getByRole("link", { name: /Real 1/ })).toBeVisible();
  await expect(lamp(waiting)).toHaveText("All sent");
  expect((await server.entries()).map((entry) => entry.kind)).toEqual(["pack-added"]);
  expect((await phoneEntries(waiting)).map((entry) => entry.kind)).toEqual(["pack-added"]);
});
