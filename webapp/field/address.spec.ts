// The day at a hall where the router is changed at noon.

import { addNote, addPack, lamp } from "../e2e/support/app";
import { allSent } from "./support/phone";
import { expect, test } from "./support/test";

test("the laptop and the phones get other addresses, and the phones go on by the name", async ({ laptop, newPhone }) => {
  const phone = newPhone("phone1", "192.168.77.11");
  const page = await phone.meet(laptop, "pit phone 1");
  await page.getByRole("link", { name: "To the packs" }).click();
  const pack = await addPack(page, { name: "Red 1" });
  await allSent(page);

  laptop.host.move("10.20.30.1");
  phone.host.move("10.20.30.40");
  const moved = Date.now();
  await addNote(page, pack, "swapped the leads");
  await expect(lamp(page)).toHaveText("1 unsent");
  await expect.poll(() => phone.ask("pit.local").catch(String), { timeout: 60_000, intervals: [200] }).toBe("10.20.30.1");
  phone.host.knows({ "pit.local": "10.20.30.1" });
  const found = Date.now();
  await allSent(page); // without a touch
  console.log(`other addresses: the name was found again after ${((found - moved) / 1000).toFixed(1)} s, all was sent after ${((Date.now() - moved) / 1000).toFixed(1)} s`);

  // The number is good too, once the certificate has it.
  const byNumber = await page.context().newPage();
  await expect(async () => {
    await byNumber.goto("https://10.20.30.1:8443/join");
  }).toPass({ timeout: 60_000 });
  await phone.shut();
  expect((await laptop.stop()).map((entry) => entry.kind)).toEqual(["pack-added", "note"]);
});
