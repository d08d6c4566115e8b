// First contact on a network without internet, following only what the laptop's
// terminal and its welcome page say.

import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { addPack, fillAll, lamp } from "../e2e/support/app";
import { allSent } from "./support/phone";
import { expect, test } from "./support/test";

test("from nothing to an installed app that records a test with the link down, sent on return", async ({ laptop, newPhone }) => {
  const { welcome, origin, fingerprint } = laptop.terminal;
  expect([welcome, origin]).toEqual(["http://pit.local:8088", "https://pit.local:8443"]);
  const phone = newPhone("phone1", "192.168.77.11");
  const began = Date.now();
  const clock: string[] = [];
  const lap = (what: string) => clock.push(`${what} ${((Date.now() - began) / 1000).toFixed(1)} s`);

  expect(await phone.find("pit.local")).toBe(laptop.host.address);
  let page = await phone.open();
  phone.taps++; // the square on the terminal, scanned
  await page.goto(welcome);
  const state = page.locator("#state");
  await expect(state).toHaveAttribute("data-state", "no"); // red
  lap("welcome page, not trusted");
  const refused = await page.context().newPage();
  await expect(refused.goto(`${origin}/`)).rejects.toThrow("ERR_CERT_AUTHORITY_INVALID");
  await refused.close();

  // The certificate, compared with the terminal before it is trusted.
  expect((await page.locator(".print span").allTextContents()).join(":")).toBe(fingerprint);
  const steps = page.locator(".system[open]");
  await expect(steps.locator("summary")).toHaveText("Android");
  const toRead = await page.locator("header, #state, #rest > p, .system[open] summary, .system[open] ol").allInnerTexts();
  const words = toRead.join(" ").split(/\s+/).length;
  const inSettings = await steps.locator("li").count();
  const loading = page.waitForEvent("download");
  await phone.tap(steps.getByRole("link", { name: "Get the certificate" }));
  const file = join(phone.host.folder, "ca.crt");
  await (await loading).saveAs(file);
  expect(createHash("sha256").update(readFileSync(file)).digest("hex").toUpperCase().match(/../g)?.join(":")).toBe(fingerprint);
  await phone.shut(); // this browser reads the list of its system only when it starts
  phone.trust(file);
  page = await phone.open();
  await page.goto(welcome);
  await expect(page.locator("#state")).toHaveAttribute("data-state", "yes"); // green
  lap("trusted");

  // In, with a code from the terminal.
  const code = await laptop.invite();
  await phone.tap(page.getByRole("link", { name: "Open packwright" }));
  await phone.join(page, code, "pit phone 1");
  lap("joined");
  const cdp = await phone.cdp(page);
  const { installabilityErrors } = await cdp.send("Page.getInstallabilityErrors");
  expect(installabilityErrors).toEqual([]);
  const manifest = await cdp.send("Page.getAppManifest");
  expect([manifest.url, manifest.errors, JSON.parse(manifest.data ?? "").start_url]).toEqual([`${origin}/manifest.webmanifest`, [], "/"]);
  await phone.tap(page.getByRole("link", { name: "To the packs" }));
  const pack = await addPack(page, { name: "Red 1" });
  phone.taps += 3; // add, the name, save
  phone.typed += 5;
  await allSent(page);
  lap("first pack on the server");

  // Cold, with no network at all, from a label.
  await phone.shut();
  phone.host.linkDown();
  page = await phone.open();
  phone.taps++;
  await page.goto(`${origin}/P/${pack}`);
  await expect(page.getByRole("heading", { level: 1 })).toHaveText(`Red 1 ${pack}`);
  await phone.tap(page.getByRole("link", { name: "Quick form" }));
  await fillAll(page, { "open_v.0": "12.84", "loaded_v.0": "12.71" });
  phone.taps += 2;
  phone.typed += 10;
  await expect(page.getByRole("region", { name: "Result" })).toBeVisible();
  await phone.tap(page.getByRole("button", { name: "Save test" }));
  await expect(page.getByText("Test saved on this device")).toBeVisible();
  await expect(lamp(page)).toHaveText("1 unsent");
  lap("test saved with the link down");
  const machine = (Date.now() - began) / 1000;

  phone.host.linkUp();
  await allSent(page);
  lap("sent on return");
  await phone.shut();
  const journal = await laptop.stop();
  expect(journal.map(({ kind, pack }) => [kind, pack])).toEqual([["pack-added", pack], ["load-test", pack]]);

  // How long the person takes beside the machine. From memory: 238 words a minute (Brysbaert 2019, silent reading); 1.1 s to point,
  // 0.2 s to press, 0.28 s a key (Card, Moran and Newell, keystroke-level model). Assumed: two taps for a step in the phone's
  // settings, 0.3 s to compare a pair of the fingerprint.
  const pairs = fingerprint.split(":").length;
  const person = (words / 238) * 60 + pairs * 0.3 + (phone.taps + 2 * inSettings) * 1.3 + phone.typed * 0.28;
  console.log(`first contact: ${clock.join(", ")}
  until the test was saved: the machine's part ${machine.toFixed(0)} s; the person's, estimated, ${person.toFixed(0)} s for
  ${words} words on the welcome page, ${phone.taps} taps, ${phone.typed} characters, ${inSettings} steps in the phone's settings`);
  expect(person).toBeLessThan(120);
});
