// A label's address opened cold, with nothing behind it: the app comes from the
// phone, shows the pack, and a test can be done and saved.

import { addPack, expectReady, fillAll, lamp, open } from "./support/app";
import type { Server } from "./support/server";
import { expect, test } from "./support/test";

const ways: { how: string; lose: (server: Server) => Promise<void> }[] = [
  { how: "the server stopped", lose: (server) => server.stop() },
  { how: "a server that takes connections and never answers", lose: (server) => server.standIn(() => {}) },
];

for (const { how, lose } of ways) {
  test(`deep link with ${how}`, async ({ page, context, server }) => {
    await open(page);
    const code = await addPack(page, { name: "Red 1" });
    await expect(lamp(page)).toHaveText("All sent");
    await page.close();
    await lose(server);

    const cold = await context.newPage();
    await cold.goto(`/P/${code}`); // as on the label: in capitals
    await expect(cold.getByRole("heading", { level: 1 })).toHaveText(`Red 1 ${code}`);
    await expectReady(cold);

    await cold.getByRole("link", { name: "Quick form" }).click();
    await fillAll(cold, { "open_v.0": "12.90", "loaded_v.0": "12,80" });
    await expect(cold.getByRole("region", { name: "Result" })).toBeVisible();
    await cold.getByRole("button", { name: "Save test" }).click();
    await expect(cold.getByText("Test saved on this device")).toBeVisible();
    await expect(lamp(cold)).toHaveText("1 unsent");

    await cold.close(); // nothing lives on in the page
    await server.start();
    const again = await context.newPage();
    await open(again, `/p/${code}`);
    await expect(lamp(again)).toHaveText("All sent");
    const tests = (await server.entries()).filter((entry) => entry.kind === "load-test");
    expect(tests.map(({ pack, body }) => [pack, body.open_v, body.loaded_v])).toEqual([[code, [12.9], [12.8]]]);
  });
}

test("every screen opens cold without a server", async ({ page, context, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Red 2" });
  await page.close();
  await server.stop();
  const screens: Record<string, string | RegExp> = {
    "/": "Packs",
    "/add": "Add a pack",
    "/scan": "Scan a label",
    [`/p/${code}/edit`]: "Change Red 2",
    [`/p/${code}/finding`]: "What did you see?",
    [`/p/${code}/label`]: "Label of Red 2",
    [`/p/${code}/test`]: "Is this what you have?",
    [`/p/${code}/quick`]: "Quick form, Red 2",
    "/paper": "Paper",
    "/setup": "Set-up",
    "/setup/team": "Meter, load and limits",
    "/setup/journal": "Read a saved journal",
    "/setup/stored": "What is stored where",
    "/setup/devices": "Devices",
    "/setup/wipe": "Wipe this device",
    "/join": "Join the team",
    "/take": "Take over readings",
    "/handover": "Hand over readings",
    "/unsent": "Unsent and refused",
    "/no/such/screen": "Nothing here",
  };
  const cold = await context.newPage();
  for (const [path, heading] of Object.entries(screens)) {
    await cold.goto(path);
    await expect(cold.getByRole("heading", { level: 1 })).toHaveText(heading);
  }
});

test("the phone's own word on the network is not trusted: no network at all", async ({ page, context, server }) => {
  await open(page);
  await context.setOffline(true);
  await page.reload();
  const code = await addPack(page, { name: "Red 3" });
  await expect(lamp(page)).toHaveText("1 unsent");
  await context.setOffline(false);
  await expect(lamp(page)).toHaveText("All sent");
  expect((await server.entries()).map((entry) => entry.pack)).toEqual([code]);
});

test("a network that breaks off while the app is being kept: said, and tried again until it is", async ({ page, context, server }) => {
  let broken = 0;
  await context.route("**/assets/core-*.wasm", (route) => {
    if (!route.request().serviceWorker() || ++broken > 2) return route.fallback();
    return route.abort("connectionreset");
  });
  await page.goto("/setup");
  const kept = page.locator("dl div").filter({ hasText: "Offline" });
  await expect(kept).toContainText("the connection broke off");
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
  expect(broken).toBeGreaterThan(2);
  await expect(kept).not.toContainText("the connection broke off");
  await server.stop();
  const cold = await context.newPage();
  await cold.goto("/setup");
  await expectReady(cold);
});
