// The test of every journey on a network: the laptop and the phones it asks for.

import { test as base } from "@playwright/test";
import { Laptop } from "./laptop";
import { Network, whyNot } from "./network";
import { Phone } from "./phone";

export { expect } from "@playwright/test";

interface Fixtures {
  network: Network;
  laptop: Laptop;
  newPhone: (name: string, address: string) => Phone;
}

export const test = base.extend<Fixtures>({
  network: async ({}, use) => {
    const reason = whyNot();
    if (reason) console.log(`NOT CHECKED here, no network may be made: ${reason}`);
    base.skip(reason !== null);
    const network = Network.open();
    try {
      await use(network);
    } finally {
      network.close();
    }
  },
  laptop: async ({ network }, use) => {
    await use(await Laptop.start(network.add("laptop", "192.168.77.1")));
  },
  newPhone: async ({ network, playwright }, use, info) => {
    const phones: Phone[] = [];
    await use((name, address) => {
      const phone = new Phone(network.add(name, address), playwright.chromium, info.project.use);
      phones.push(phone);
      return phone;
    });
    await Promise.all(phones.map((phone) => phone.shut()));
    base.expect(phones.flatMap((phone) => phone.faults), "faults that no page caught").toEqual([]);
  },
});
