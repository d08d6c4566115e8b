// Three phones record while somebody on the same network tries everything.

import { once } from "node:events";
import type { Page } from "@playwright/test";
import { addNote, addPack, lamp, quickTest } from "../e2e/support/app";
import { phoneEntries } from "../e2e/support/journal";
import { allSent, type Phone } from "./support/phone";
import { tool } from "./support/laptop";
import { expect, test } from "./support/test";

interface Tally {
  attack: string;
  tries: number;
  answers: Record<string, number>;
  inside: string[];
  took_ms: number;
}

test("an intruder gets nothing, nothing is lost, and the phones are served", async ({ network, laptop, newPhone }) => {
  test.setTimeout(180_000);
  const intruder = network.add("intruder", "192.168.77.66");
  const phones: { phone: Phone; page: Page }[] = [];
  for (const n of [1, 2, 3]) {
    const phone = newPhone(`phone${n}`, `192.168.77.1${n}`);
    phones.push({ phone, page: await phone.meet(laptop, `pit phone ${n}`, ...(n === 1 ? ["--lead"] : [])) });
  }
  const { phone: leads, page: lead } = phones[0] as { phone: Phone; page: Page };
  await lead.getByRole("link", { name: "To the packs" }).click();
  const pack = await addPack(lead, { name: "Red 1" });
  await allSent(lead);
  for (const { page } of phones.slice(1)) {
    await page.goto(`/p/${pack}`);
    await expect(page.getByRole("heading", { level: 1 })).toHaveText(`Red 1 ${pack}`);
  }

  // Tokens that were good once: of a phone that left, and of a phone that a lead put out.
  const tokens: string[] = [];
  const lost = newPhone("lost", "192.168.77.19");
  const lostPage = await lost.meet(laptop, "lost phone");
  tokens.push(await lost.token());
  await lostPage.getByText("Leave", { exact: true }).click();
  await lostPage.getByRole("button", { name: "Leave the team's server" }).click();
  await expect(lamp(lostPage)).toHaveText("Not joined");
  await lostPage.goto("/join");
  await lost.join(lostPage, await laptop.invite(), "lost phone");
  tokens.push(await lost.token());
  await lead.goto("/setup/devices");
  await lead.getByText("Change lost phone").click();
  await lead.getByRole("button", { name: "Take off the list" }).click();
  await lead.getByRole("button", { name: "Yes, take off" }).click();
  await expect(lead.getByText("2 devices taken off the list")).toBeVisible();
  await lost.shut();
  expect(tokens.filter((token) => /^[\w-]{43}$/.test(token))).toHaveLength(2);

  // A page of the intruder's in a browser that has joined, and the intruder in the laptop's place.
  const trap = intruder.start(tool("intruder"), "-trap");
  let caught = "";
  trap.stdout?.on("data", (text) => (caught += text));
  const trapped = once(trap, "exit");
  await expect.poll(() => caught).toContain("ready");
  const visit = await lead.context().newPage();
  await visit.goto("http://192.168.77.66/");
  await expect(visit).toHaveTitle("read 0 of 6");
  await visit.close();
  expect(leads.faults.splice(0)).toEqual([expect.stringMatching(/^Framing 'https:\/\/pit\.local:8443\/' violates/)]);
  const victim = phones[2] as { phone: Phone; page: Page };
  await victim.phone.shut();
  victim.phone.host.knows({ "pit.local": intruder.address });
  victim.page = await victim.phone.open();
  await victim.page.goto(`/p/${pack}`);
  await addNote(victim.page, pack, "with the intruder in between");
  await expect(lamp(victim.page)).toHaveText("1 unsent");
  trap.kill("SIGTERM");
  await trapped;
  expect(caught).toMatch(/[1-9]\d* connections, 0 requests/);
  await victim.phone.shut();
  await victim.phone.find("pit.local");
  victim.page = await victim.phone.open();
  await victim.page.goto(`/p/${pack}`);
  await allSent(victim.page);

  const before = (await Promise.all(phones.map(({ page }) => times(page, 6_000)))).flat();
  const open = await laptop.invite();
  const attacking = intruder.run(
    tool("intruder"),
    ...["-addr", laptop.host.address, "-tokens", tokens.join(","), "-secrets", `Red 1,intruder in between,${tokens.join(",")}`, "-for", "20s"],
  );
  let over = false;
  const attacked = attacking.then(
    (said) => said,
    (thrown: { stdout: string; stderr: string }) => thrown.stdout + thrown.stderr,
  ).finally(() => (over = true));
  const under: number[] = [];
  const recorded = await Promise.all(
    phones.map(async ({ page }, at) => {
      let count = 0;
      for (; !over || count === 0; count++) {
        await quickTest(page, pack, "12.84", `12.7${count % 10}`);
        under.push(...(await times(page, 500)));
        if (at === 0 && count === 0) continue;
        await addNote(page, pack, `phone ${at + 1}, note ${count}`);
        under.push(...(await times(page, 500)));
      }
      return count;
    }),
  );
  const tallies = (await attacked).split("\n").filter(Boolean).map((line) => JSON.parse(line) as Tally);
  for (const { attack, tries, answers, took_ms } of tallies) console.log(`${attack}: ${tries} tries in ${took_ms} ms, ${JSON.stringify(answers)}`);
  expect(tallies).toHaveLength(10);
  expect(tallies.filter(({ answers }) => "not tried" in answers)).toEqual([]);
  expect(tallies.flatMap(({ inside }) => inside)).toEqual([]);
  console.log(`answers to the phones: ${figures(before)} before, ${figures(under)} during the attack; ${recorded.join(" + ")} tests recorded meanwhile`);

  // Whoever guesses at a code closes it to himself alone: it still lets a phone in.
  const late = newPhone("late", "192.168.77.18");
  await late.find("pit.local");
  late.trust(laptop.root);
  const latePage = await late.open();
  await latePage.goto("/join");
  await late.join(latePage, open, "late phone");
  await latePage.getByText("Leave", { exact: true }).click();
  await latePage.getByRole("button", { name: "Leave the team's server" }).click();
  await expect(lamp(latePage)).toHaveText("Not joined");

  // Guesses from many addresses end a code for everybody; the next one is good.
  for (let n = 101; n <= 125; n++) intruder.also(`192.168.77.${n}`);
  const ended = await laptop.invite();
  const together = JSON.parse(await intruder.run(tool("intruder"), "-addr", laptop.host.address, "-crowd", "26")) as Tally;
  console.log(`${together.attack}: ${together.tries} tries, ${JSON.stringify(together.answers)}`);
  expect(together.inside).toEqual([]);
  await latePage.goto(`/join#${ended}`);
  await latePage.locator("[name=name]").fill("late phone");
  await latePage.getByRole("button", { name: "Join", exact: true }).click();
  await expect(latePage.getByRole("alert").getByText("Not joined: this code is no longer good")).toBeVisible();
  await late.join(latePage, await laptop.invite(), "late phone");

  const made = new Map<string, unknown>();
  for (const { phone, page } of phones) {
    await allSent(page);
    for (const entry of await phoneEntries(page)) made.set(entry.id, entry.body);
    await phone.shut();
  }
  await late.shut();
  const journal = await laptop.stop();
  expect(journal).toHaveLength(made.size);
  expect(new Map(journal.map(({ id, body }) => [id, body]))).toEqual(made);
  expect(journal.filter((entry) => entry.kind === "load-test")).toHaveLength(recorded.reduce((sum, n) => sum + n, 0));
});

/** times asks the server, as the app's probe does, one question after another for some ms, and gives how long each took, ms. A question without a good answer fails. */
function times(page: Page, during: number): Promise<number[]> {
  return page.evaluate(async (during) => {
    const took: number[] = [];
    for (const end = performance.now() + during; performance.now() < end; ) {
      const from = performance.now();
      const answer = await fetch("/api/v1/entries?limit=1", { cache: "no-store" });
      if (!answer.ok) throw new Error(`status ${answer.status}`);
      await answer.text();
      took.push(performance.now() - from);
      await new Promise((done) => setTimeout(done, 100));
    }
    return took;
  }, during);
}

/** figures gives the median, the 99th percentile and the longest. */
function figures(took: number[]): string {
  const sorted = took.toSorted((a, b) => a - b);
  const at = (part: number) => `${(sorted[Math.min(sorted.length - 1, Math.floor(part * sorted.length))] ?? NaN).toFixed(0)} ms`;
  return `p50 ${at(0.5)}, p99 ${at(0.99)}, longest ${at(1)} of ${took.length}`;
}
