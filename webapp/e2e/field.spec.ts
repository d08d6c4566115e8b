// Phones on a network: joining with a code, being signed out, and what can be
// done where the way to the server is not to be trusted.

import { readFileSync, writeFileSync } from "node:fs";
import { addPack, changeTeam, expectReady, field as input, fillAll, guidedReading, hurry, lamp, quickTest } from "./support/app";
import { rasterise } from "./support/camera";
import { test } from "./support/field";
import { draftOf, outboxSize, phoneEntries } from "./support/journal";
import { expect, type Page } from "./support/test";

/** join goes through an invitation and ends at the packs. */
async function join(page: Page, invitation: string, name: string): Promise<void> {
  await page.goto(invitation);
  await expect(page.getByRole("heading", { name: "Join the team" })).toBeVisible();
  await input(page, "name").fill(name);
  await page.getByRole("button", { name: "Join", exact: true }).click();
  await expect(page.getByText(`This device has joined as ${name}.`)).toBeVisible();
  expect(new URL(page.url()).hash).toBe("");
}

test("from an invitation to an app that records a test offline, and sends it on return", async ({ field, fieldPhone }) => {
  const context = await fieldPhone("trusting");
  const page = await context.newPage();
  await page.goto("/");
  await expect(lamp(page)).toHaveText("Not joined");
  await expect(page.getByRole("heading", { name: "Not joined yet" })).toBeVisible();
  await join(page, await field.invite(), "pit phone 2");
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
  await page.getByRole("link", { name: "To the packs" }).click();
  const code = await addPack(page, { name: "Red 1" });
  await expect(lamp(page)).toHaveText("All sent");

  await context.setOffline(true);
  await page.goto("/setup"); // a start without the server: it has joined all the same
  const way = page.getByRole("region", { name: "The way to the server" });
  await expect(way).toContainText("joined as pit phone 2");
  await expect(way).toContainText("Crew, as last told");
  await expect(way.getByRole("link", { name: "What joining means, and leaving" })).toBeVisible();
  await way.getByRole("link").click();
  await expect(page.getByText("This device has joined as pit phone 2.")).toBeVisible();
  await page.goto(`/P/${code}`);
  await quickTest(page, code, "12.84", "12.71");
  await expect(lamp(page)).toHaveText("1 unsent");
  await context.setOffline(false);
  await expect(lamp(page)).toHaveText("All sent");
  expect((await field.server.entries()).map((entry) => entry.kind)).toEqual(["pack-added", "load-test"]);
  expect(await field.devices()).toMatchObject([{ name: "pit phone 2", role: "crew", unsent: 0 }]);
});

test("a wrong code, then the right one, typed", async ({ field, fieldPhone }) => {
  const page = await (await fieldPhone("trusting")).newPage();
  await page.goto("/join");
  await page.getByRole("button", { name: "Join", exact: true }).click();
  await expect(input(page, "code")).toHaveAttribute("aria-invalid", "true");
  await expect(input(page, "name")).toHaveAttribute("aria-invalid", "true");
  const code = (await field.invite("lead")).split("#")[1] ?? "";
  const wrong = (code[0] === "0" ? "1" : "0") + code.slice(1);
  await fillAll(page, { code: wrong, name: "lead's phone", initials: "MK" });
  await page.getByRole("button", { name: "Join", exact: true }).click();
  await expect(page.getByRole("alert").getByText("Not joined: this is not the code")).toBeVisible();
  await page.reload(); // what was typed of it is kept
  await expect(input(page, "name")).toHaveValue("lead's phone");
  await expect(input(page, "initials")).toHaveValue("MK");
  await fillAll(page, { code: code.toLowerCase().replace("-", " ") });
  await page.getByRole("button", { name: "Join", exact: true }).click();
  await expect(page.getByText("This device has joined as lead's phone.")).toBeVisible();
  await expect(page.getByText("Leads also look after devices")).toBeVisible();
  await page.goto("/setup");
  await expect(input(page, "initials")).toHaveValue("MK");
});

test("a lead invites on one device, sees the other join, makes it a lead and takes its access away", async ({ field, fieldPhone }) => {
  const laptop = await (await fieldPhone("trusting", field.server.origin)).newPage();
  await laptop.goto("/setup/devices"); // this machine: no sign-in
  await laptop.getByRole("button", { name: "Show a code" }).click();
  await expect(laptop.getByRole("timer")).toHaveText(/^(10:00|9:5\d)$/);
  const code = (await laptop.locator(".invitation").textContent()) ?? "";
  await expect(laptop.getByRole("img", { name: `QR code of ${field.https}/join#${code}` })).toBeVisible();

  const phone = await (await fieldPhone("trusting")).newPage();
  await join(phone, `/join#${code}`, "pit phone 3");
  await expect(laptop.getByText("pit phone 3 has joined.")).toBeVisible();
  await expect(laptop.locator(".invitation")).toBeHidden(); // it is used up
  await phone.goto("/setup/team");
  await expect(phone.getByText("Only a lead may change these.")).toBeVisible();
  await phone.goto("/setup/devices");
  await expect(phone.getByText("Only a lead looks after the devices.")).toBeVisible();

  await laptop.getByText("Change pit phone 3").click();
  await laptop.getByRole("radio", { name: "Lead" }).last().check();
  await expect(laptop.getByText("pit phone 3 is lead now")).toBeVisible();
  await phone.goto("/setup");
  await expect(phone.getByRole("link", { name: "Devices: who may join" })).toBeVisible();
  await changeTeam(phone, { rest_min: "45" });
  await expect(lamp(phone)).toHaveText("All sent");

  await laptop.getByRole("button", { name: "Take off the list" }).click();
  await laptop.getByRole("button", { name: "Yes, take off" }).click();
  await expect(laptop.getByText("1 device taken off the list")).toBeVisible();
});

test("a phone that is taken off the list keeps its entries, says what to do, gives them as a file, and sends them after joining anew", async ({ field, fieldPhone }, info) => {
  const page = await (await fieldPhone("trusting")).newPage();
  await join(page, await field.invite(), "pit phone 4");
  await page.getByRole("link", { name: "To the packs" }).click();
  const code = await addPack(page, { name: "Red 2" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
  await field.change("pit phone 4", { revoked: true });
  await quickTest(page, code, "12.84", "12.71");
  await expect(lamp(page)).toHaveText("1 unsent, taken off the list");
  await page.goto("/");
  await expect(page.getByText("This device was taken off the team's list.")).toBeVisible();
  await expect(page.getByText("1 entry stays here unsent: ask a lead for a new invitation")).toBeVisible();
  await page.goto("/setup");
  const way = page.getByRole("region", { name: "The way to the server" });
  await expect(way).toContainText("pit phone 4, taken off the list");
  await expect(way).not.toContainText("Everything works");
  await field.server.stop(); // it is not forgotten by a start without the server
  await page.reload();
  await expect(way).toContainText("pit phone 4, taken off the list");
  await expect(lamp(page)).toHaveText("1 unsent, taken off the list");
  await field.server.start();
  await lamp(page).click();
  await expect(page.getByText("Taken off the list: the server lets this device in no more.")).toBeVisible();
  await expect(page.getByText("1 entry not yet on the server.")).toBeVisible();

  const saving = page.waitForEvent("download");
  await page.getByRole("button", { name: "Save as file" }).click();
  const file = info.outputPath("journal.jsonl");
  await (await saving).saveAs(file);
  expect(readFileSync(file, "utf8").trim().split("\n")).toHaveLength(2);

  await page.goto(`/p/${code}/quick`); // half filled meanwhile
  await fillAll(page, { "open_v.0": "12.80" });
  await expect.poll(() => draftOf(page, `quick:${code}`)).not.toBeNull();
  await page.goto("/join");
  await expect(input(page, "name")).toHaveValue("pit phone 4"); // as it was called
  await join(page, await field.invite(), "pit phone 4b");
  await expect(lamp(page)).toHaveText("All sent");
  expect(await field.server.entries()).toHaveLength(2);
  await page.goto(`/p/${code}/quick`);
  await expect(input(page, "open_v.0")).toHaveValue("12.80");
});

test("leaving: the phone is a stranger again, with everything it had", async ({ field, fieldPhone }) => {
  const page = await (await fieldPhone("trusting")).newPage();
  await join(page, await field.invite(), "pit phone 5");
  await expect(page.getByRole("heading", { level: 1 })).toHaveText("Joined");
  await expect(page.getByRole("button", { name: "Leave the team's server" })).toBeHidden(); // asked for, not offered
  await page.getByText("Leave", { exact: true }).click();
  await page.getByRole("button", { name: "Leave the team's server" }).click();
  await expect(lamp(page)).toHaveText("Not joined");
  expect((await field.devices())[0]?.revoked_ms).toBeGreaterThan(0);
});

test("a certificate warning that was clicked away: said with the way out, and the app works while the server is there", async ({ field, fieldPhone }) => {
  const page = await (await fieldPhone("clicking")).newPage();
  await page.goto("/");
  await expect(page.getByText("Encrypted, but not trusted.")).toBeVisible();
  await expect(page.getByText("take over this device's access")).toBeVisible();
  await expect(page.getByRole("link", { name: "How to trust the server" })).toHaveAttribute("href", field.plain);
  await join(page, await field.invite(), "visitor");
  await page.getByRole("link", { name: "To the packs" }).click();
  await addPack(page, { name: "Red 3" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto("/setup");
  await expect(page.getByRole("region", { name: "The way to the server" })).toContainText("Encrypted, but not trusted.");
  await expect(page.getByText("no, this device does not trust the server's certificate")).toBeVisible();
  await expect(page.getByText(/home screen/)).toHaveCount(0); // an icon there would open nothing
});

test("plain http: no word to the server, a photo of a label, a result that is kept, and the hand-over", async ({ field, fieldPhone }, info) => {
  const laptop = await (await fieldPhone("trusting", field.server.origin)).newPage();
  await laptop.goto("/");
  await expectReady(laptop);
  const code = await addPack(laptop, { name: "Red 4" });
  await expect(lamp(laptop)).toHaveText("All sent");
  const pdf = await fetch(`${field.server.origin}/api/v1/labels.pdf?pack=${code}&base-url=https://pit.local`);
  const picture = rasterise(Buffer.from(await pdf.arrayBuffer()), 150);
  const photo = info.outputPath("label.pgm.png");
  await writePNG(laptop, picture, photo);

  const context = await fieldPhone("trusting");
  const page = await context.newPage();
  const asked: string[] = [];
  page.on("request", (request) => new URL(request.url()).pathname.startsWith("/api/") && asked.push(request.url()));
  await page.goto(`${field.plain}/index.html`); // as the welcome page links to it
  await expect(page.getByText("Not encrypted.")).toBeVisible();
  await expect(lamp(page)).toHaveText("No sync here");
  await page.getByRole("link", { name: "Photo or code of a label" }).click();
  const choosing = page.waitForEvent("filechooser");
  await page.getByRole("button", { name: "Read a photo of the label" }).click();
  await (await choosing).setFiles(photo);
  await expect(page.getByText(`${code} is a good code. This browser does not know the team's packs.`)).toBeVisible();
  await expect(page.getByRole("link", { name: `Test pack ${code}, step by step` })).toBeVisible();
  await page.getByRole("link", { name: "Type in readings" }).click();
  await expect(page.getByText(`This browser does not know pack ${code}.`)).toBeVisible();
  await expect(page.getByText("Load, meter and limits here are usual values, not your team's.")).toBeVisible();
  await expect(page.getByText("Stop at once on heat, smell, smoke, hissing or swelling.")).toBeVisible(); // above the form, unfolded
  await fillAll(page, { "open_v.0": "12.84", "loaded_v.0": "12.71" });
  await expect(page.getByRole("region", { name: "Result" })).toBeVisible();
  await page.reload(); // the half-filled form is kept here too
  await expect(input(page, "open_v.0")).toHaveValue("12.84");
  await page.getByRole("button", { name: "Save test" }).click();
  await expect(page.getByText("Test saved on this device")).toBeVisible();
  await expect(lamp(page)).toHaveText("1 kept here");
  await page.waitForTimeout(3000);
  expect(asked).toEqual([]);

  await page.getByRole("link", { name: "Hand over to the encrypted address" }).click();
  await expect(input(page, "address")).toHaveValue(field.https); // the server's own word
  await expect(page.getByRole("button", { name: "They have arrived" })).toHaveCount(0); // not asked before they were opened there
  const opening = context.waitForEvent("page");
  await page.getByRole("link", { name: "Hand over", exact: true }).click();
  const trusted = await opening;
  await expect(trusted.getByText("This link carries 1 entry from another browser page.")).toBeVisible();
  await trusted.getByRole("button", { name: "Keep 1 entry here" }).click();
  await expect(trusted.getByText("1 entry is stored on this device now.")).toBeVisible();
  await expect(trusted.getByText("They are sent to the server once this device has joined.")).toBeVisible();
  await expect(lamp(trusted)).toHaveText("Not joined");
  expect(await outboxSize(page)).toBe(1); // until the person says so
  await page.getByRole("button", { name: "They have arrived" }).click();
  await expect(page.getByText("Nothing waits here.")).toBeVisible();
  await expect(lamp(page)).toHaveText("No sync here");
  expect(await phoneEntries(page)).toHaveLength(1);

  await join(trusted, await field.invite(), "visitor's phone");
  await expect(lamp(trusted)).toHaveText("All sent");
  await laptop.goto(`/p/${code}`);
  await expect(laptop.getByRole("region", { name: "Tests" }).getByRole("listitem")).toHaveCount(1);
});

test("plain http: the guided test without camera and network, its cautions first, with values that are said to be the usual ones", async ({ field, fieldPhone }) => {
  const context = await fieldPhone("trusting");
  const page = await context.newPage();
  await page.clock.install();
  await page.goto(`${field.plain}/setup/team`);
  await fillAll(page, { read_after_s: "1" }); // this browser's own value: it stays here
  await page.getByRole("button", { name: "Save for the team" }).click();
  await expect(page).toHaveURL(`${field.plain}/setup`);
  await page.goto(`${field.plain}/p/7K3QXX/test`);
  await expect(page.getByText("This browser does not know pack 7K3QXX.")).toBeVisible();
  await expect(page.getByText("usual values, not your team's")).toHaveCount(0); // some were set here
  await context.setOffline(true);
  await page.getByRole("button", { name: "Yes, go on" }).click();
  await expect(page.getByText("Stop at once on heat, smell, smoke, hissing or swelling.")).toBeVisible();
  await page.getByRole("button", { name: "I have read this" }).click();
  await page.getByRole("button", { name: "Next: open-circuit reading" }).click();
  await guidedReading(page, "12.84", "12.71", hurry);
  await page.getByRole("button", { name: "Finish now" }).click();
  await page.getByRole("button", { name: "Save test" }).click();
  await expect(page.getByText("Test saved on this device")).toBeVisible();
  await expect(page.getByRole("region", { name: "Result" })).toBeVisible();
  expect((await phoneEntries(page)).at(-1)).toMatchObject({ kind: "load-test", pack: "7K3QXX", body: { open_v: [12.84], loaded_v: [12.71] } });
});

test("links that carry nothing good are refused with a reason, and store nothing", async ({ fieldPhone }) => {
  const page = await (await fieldPhone("trusting")).newPage();
  const pack = (value: unknown) => Buffer.from(JSON.stringify(value)).toString("base64url");
  const entry = { id: "01M1DZRPK005QPWS8000000001", v: 1, kind: "note", pack: "", device: "d", by: "", hlc: "1788249600000-0000" };
  const cases: [hash: string, words: RegExp][] = [
    ["", /this link carries nothing/],
    ["*", /this link is damaged/],
    [pack("text"), /this link is damaged/],
    [pack(Array.from({ length: 2000 }, () => entry)), /more than 500 entries/],
    [pack([{ ...entry, body: {} }]), /The note is empty/], // by the core's own check
    [pack([{ ...entry, kind: "pack-added", pack: "7K3QX8", body: {} }]), /No label can carry the code/],
    [pack([{ ...entry, pack: "7K3QX8", body: { text: "x" } }]), /7K3QX8/],
    [pack([{ ...entry, kind: "team-changed", body: { repeats: 1 } }]), /The team's settings are not handed over/],
    [pack([7, null, "x"]), /Not taken over/],
  ];
  for (const [hash, words] of cases) {
    await page.goto("about:blank");
    await page.goto(`/take#${hash}`);
    await expect(page.getByRole("main")).toContainText(words);
    await expect(page.getByRole("button", { name: /^Keep/ })).toHaveCount(0);
  }
  await page.goto("about:blank");
  await page.goto(`/take#${pack([{ ...entry, kind: "charge-started", v: 2, body: { a: 1 }, more: true }, 7])}`);
  await page.getByRole("button", { name: "Keep 1 entry here" }).click(); // of a newer version, as it came
  await expect(page.getByText("the 1 not taken over stay there")).toBeVisible();
  expect(await phoneEntries(page)).toEqual([{ ...entry, kind: "charge-started", v: 2, body: { a: 1 }, more: true }]);
});

test("wiping a phone asks twice, signs it out and leaves nothing, in every tab", async ({ field, fieldPhone }) => {
  const context = await fieldPhone("trusting");
  const page = await context.newPage();
  await join(page, await field.invite(), "pit phone 6");
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
  await page.getByRole("link", { name: "To the packs" }).click();
  const code = await addPack(page, { name: "Red 5" });
  await expect(lamp(page)).toHaveText("All sent");
  const other = await context.newPage();
  await other.goto(`/p/${code}`);
  await expect(other.getByRole("heading", { level: 1 })).toHaveText(`Red 5 ${code}`);

  await page.goto("/setup/stored");
  await page.getByRole("link", { name: "Wipe this device" }).click();
  await expect(page.getByText("Nothing is unsent.")).toBeVisible();
  await expect(page.getByRole("button", { name: "Wipe this device" })).toHaveAttribute("aria-disabled", "true");
  await page.getByRole("checkbox", { name: "Delete everything here" }).check();
  await page.getByRole("button", { name: "Wipe this device" }).click();
  await page.getByRole("button", { name: "Wipe now" }).click();
  await expect(page.getByRole("heading", { name: "Wiped" })).toBeVisible();
  await expect(page.getByText("Nothing of packwright is left in this browser.")).toBeVisible();
  await expect(page.getByText("If the server's certificate was installed on this device")).toBeVisible();
  await expect(page.getByRole("link", { name: field.plain })).toHaveAttribute("href", field.plain);
  await expect(other.getByRole("heading", { name: "Wiped" })).toBeVisible();
  await page.waitForTimeout(2000); // nothing comes back by a timer
  const left = () =>
    page.evaluate(async () => ({
      databases: (await indexedDB.databases()).map((known) => known.name),
      caches: await caches.keys(),
      workers: (await navigator.serviceWorker.getRegistrations()).length,
    }));
  expect(await left()).toEqual({ databases: [], caches: [], workers: 0 });
  expect((await field.devices())[0]?.revoked_ms).toBeGreaterThan(0);
  await page.goto("/");
  await expect(lamp(page)).toHaveText("Not joined");
});

test("wiping with unsent entries and no server says what is lost and what is left to do", async ({ field, fieldPhone }) => {
  const context = await fieldPhone("trusting");
  const page = await context.newPage();
  await join(page, await field.invite(), "pit phone 7");
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
  await page.getByRole("link", { name: "To the packs" }).click();
  const code = await addPack(page, { name: "Red 6" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
  await field.server.stop();
  await quickTest(page, code, "12.84", "12.71");
  await page.goto("/setup/wipe");
  await expect(page.getByText("1 entry is not on the server and would be lost for good.")).toBeVisible();
  await page.getByRole("checkbox", { name: "Delete everything here, 1 unsent entry too" }).check();
  await page.getByRole("button", { name: "Wipe this device" }).click();
  await page.getByRole("button", { name: "Wipe now" }).click();
  await expect(page.getByRole("heading", { name: "Not all of it is gone" })).toBeVisible();
  await expect(page.getByText(/a lead should take this device off the list/)).toBeVisible();
});

/** writePNG saves a grey picture, as a phone's camera would. */
async function writePNG(page: Page, picture: { width: number; height: number; grey: Buffer }, file: string): Promise<void> {
  const url = await page.evaluate(
    ({ width, height, grey }) => {
      const canvas = document.createElement("canvas");
      canvas.width = width;
      canvas.height = height;
      const context = canvas.getContext("2d") as CanvasRenderingContext2D;
      const pixels = context.createImageData(width, height);
      const bytes = atob(grey);
      for (let i = 0; i < bytes.length; i++) {
        pixels.data.fill(bytes.charCodeAt(i), 4 * i, 4 * i + 3);
        pixels.data[4 * i + 3] = 255;
      }
      context.putImageData(pixels, 0, 0);
      return canvas.toDataURL("image/png");
    },
    { width: picture.width, height: picture.height, grey: picture.grey.toString("base64") },
  );
  writeFileSync(file, Buffer.from(url.split(",")[1] ?? "", "base64"));
}
