// The address on labels, which lasts as long as the pack: offered, checked
// before it is saved, and never one that the server does not hold.

import { addPack, expectReady, field as input, fillAll, lamp } from "./support/app";
import { test } from "./support/field";
import { entryAt, leaveUnsent, phoneEntries } from "./support/journal";
import { expect } from "./support/test";

test("the laptop offers the address that phones use, and asks again before one without its port is saved", async ({ field, fieldPhone }) => {
  const laptop = await (await fieldPhone("trusting", field.server.origin)).newPage();
  await laptop.goto("/");
  await expectReady(laptop);
  await addPack(laptop, { name: "Teal 1" });
  await expect(lamp(laptop)).toHaveText("All sent");
  await laptop.goto("/paper");
  await expect(laptop.getByText(`The labels open ${field.https}.`)).toBeVisible(); // not the laptop's own loopback address

  await laptop.goto("/setup/team");
  await input(laptop, "base_url").fill("https://pit.local");
  await expect(laptop.getByText(`This server answers at ${field.https}, not at https://pit.local.`)).toBeVisible(); // before saving
  await laptop.getByRole("button", { name: "Save for the team" }).click();
  await expect(input(laptop, "base_url")).toHaveAttribute("aria-invalid", "true");
  expect((await phoneEntries(laptop)).map((entry) => entry.kind)).toEqual(["pack-added"]);
  await laptop.getByRole("button", { name: `Use ${field.https}` }).click();
  await expect(input(laptop, "base_url")).toHaveValue(field.https);
  await laptop.getByRole("button", { name: "Save for the team" }).click();
  await expect(laptop).toHaveURL("/setup");
  expect((await phoneEntries(laptop)).at(-1)?.body).toEqual({ base_url: field.https });

  await laptop.goto("/setup/team"); // who means it saves twice
  await input(laptop, "base_url").fill("https://pit.local");
  await laptop.getByRole("button", { name: "Save for the team" }).click();
  await expect(input(laptop, "base_url")).toHaveAttribute("aria-invalid", "true");
  await laptop.getByRole("button", { name: "Save for the team" }).click();
  await expect(laptop).toHaveURL("/setup");
  await laptop.goto("/paper");
  await expect(laptop.getByText(`This server answers at ${field.https}, not at https://pit.local.`)).toBeVisible(); // said where they are printed
});

test("crew are not offered to set the address; what the server refused is not on labels, and can be discarded", async ({ field, fieldPhone }) => {
  const page = await (await fieldPhone("trusting")).newPage();
  await page.goto(await field.invite());
  await fillAll(page, { name: "pit phone 8" });
  await page.getByRole("button", { name: "Join", exact: true }).click();
  await page.getByRole("link", { name: "To the packs" }).click();
  const code = await addPack(page, { name: "Teal 2" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto("/paper");
  await expect(page.getByText(`The labels open ${field.https}.`)).toBeVisible();
  await expect(page.getByRole("link", { name: "Change it under Meter, load and limits" })).toHaveCount(0);

  await leaveUnsent(page, [entryAt(Date.now(), "team-changed", "", { base_url: "https://elsewhere.example", repeats: 5 })]); // of an older app
  await page.reload();
  await expect(lamp(page)).toHaveText("1 refused");
  await expect(page.getByText(`The labels open ${field.https}.`)).toBeVisible();
  await expect(input(page, "base_url")).toHaveCount(0);
  await page.goto(`/p/${code}/label`);
  await expect(page.getByRole("img")).toHaveAccessibleName(new RegExp(`${field.https}/P/${code}`.toUpperCase()));
  await page.goto("/setup/team");
  await expect(input(page, "repeats")).toHaveValue("5");

  await lamp(page).click();
  await expect(page.getByText("Only a lead may change the team's settings.")).toBeVisible();
  await page.getByRole("button", { name: /^Discard/ }).click();
  await expect(page.getByText("This device then shows the settings that the team has.")).toBeVisible();
  await page.getByRole("button", { name: "Keep" }).click();
  await expect(lamp(page)).toHaveText("1 refused");
  await page.getByRole("button", { name: /^Discard/ }).click();
  await page.getByRole("button", { name: "Yes, discard" }).click();
  await expect(page.getByText(/^Discarded: /)).toBeVisible();
  await expect(lamp(page)).toHaveText("All sent");
  expect((await phoneEntries(page)).map((entry) => entry.kind)).toEqual(["pack-added"]);
  await page.goto("/setup/team");
  await expect(input(page, "repeats")).toHaveValue("3"); // the core forgot it too, in this tab
  await page.goto("/import");
  await expect(page.getByText("Only leads read in old tests.")).toBeVisible();
  await expect(page.getByRole("button", { name: "Choose a CSV file" })).toHaveCount(0);
});
