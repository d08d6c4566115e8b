// A browser that keeps the phone's database closed, or knows less of it than
// others: the app says what is wrong, and calls nothing saved that is not.

import { addNote, addPack, field, fillAll, lamp, open } from "./support/app";
import { inspect } from "./support/inspect";
import { phoneEntries } from "./support/journal";
import { expect, type Page, test } from "./support/test";

/** holdDatabase keeps a connection open from a page without the app, as one that hangs would: asked to make room, it does not. */
async function holdDatabase(page: Page, version?: number): Promise<void> {
  await page.goto("/licences.txt");
  await page.evaluate(
    (version) =>
      new Promise<void>((done, failed) => {
        const opening = indexedDB.open("packwright", version);
        opening.onerror = () => failed(opening.error);
        opening.onblocked = () => failed(new Error("the app does not make room"));
        opening.onsuccess = () => {
          (globalThis as unknown as { held: IDBDatabase }).held = opening.result;
          done();
        };
      }),
    version,
  );
}

/** nextSchema has the app ask for the next version of its database, which keeps the stores there are. */
async function nextSchema(page: Page): Promise<void> {
  await page.addInitScript(() => {
    const { open } = IDBFactory.prototype;
    IDBFactory.prototype.open = function (name, version) {
      return open.call(this, name, version === undefined ? version : version + 1);
    };
    const { createObjectStore } = IDBDatabase.prototype;
    IDBDatabase.prototype.createObjectStore = function (name, options) {
      if (!this.objectStoreNames.contains(name)) return createObjectStore.call(this, name, options);
      return undefined as unknown as IDBObjectStore; // the app does not use it
    };
  });
}

test("an upgrade of the database waits for another page: said, not blank, and goes on by itself", async ({ page, context }) => {
  await open(page);
  const code = await addPack(page, { name: "Pink 1" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.close();
  const holder = await context.newPage();
  await holdDatabase(holder);

  const newer = await context.newPage();
  await nextSchema(newer);
  await newer.goto(`/p/${code}`);
  const said = newer.getByText("An older version of packwright is open in another tab: close it there.");
  await expect(said).toBeVisible();
  await expect(newer.getByRole("heading", { level: 1 })).toHaveText(`Pack ${code}`);
  await expect(newer.getByText("Reading the journal on this device …")).toBeVisible();
  await inspect(newer, "the blocked upgrade");

  await holder.close();
  await expect(newer.getByRole("heading", { level: 1 })).toHaveText(`Pink 1 ${code}`);
  await expect(said).toBeHidden();
  await addNote(newer, code, "after the upgrade");
  await expect(lamp(newer)).toHaveText("All sent");
});

test("a newer version upgrades the database beneath the app: it makes room, and nothing is called saved", async ({ page, context, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Pink 2" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.goto(`/p/${code}/quick`);
  await fillAll(page, { "open_v.0": "12.84", "loaded_v.0": "12.71" });
  await expect(page.getByRole("region", { name: "Result" })).toBeVisible();
  await holdDatabase(await context.newPage(), 2); // fails where the app does not let go

  await page.getByRole("button", { name: "Save test" }).click();
  const failed = page.getByRole("alert").filter({ hasText: "Not saved: a newer version of packwright has been open on this device" });
  await expect(failed).toBeVisible();
  await expect(failed).toContainText("Reload the app to get that version.");
  await expect(page.getByText("Test saved on this device")).toBeHidden();
  await expect(field(page, "open_v.0")).toHaveValue("12.84");
  expect((await phoneEntries(page)).map((entry) => entry.kind)).toEqual(["pack-added"]);
  expect((await server.health()).head).toBe(1);

  await nextSchema(page); // that version
  await page.goto(`/p/${code}`);
  await expect(page.getByRole("heading", { level: 1 })).toHaveText(`Pink 2 ${code}`);
});

for (const browser of ["ignores", "throws on"] as const) {
  test(`a browser that ${browser} strict durability still saves`, async ({ page, server }) => {
    await page.addInitScript((browser) => {
      const { transaction } = IDBDatabase.prototype;
      IDBDatabase.prototype.transaction = function (stores, mode, options) {
        if (browser === "throws on" && options) throw new TypeError("too many arguments");
        return transaction.call(this, stores, mode);
      };
    }, browser);
    await open(page);
    const code = await addPack(page, { name: "Pink 3" });
    await addNote(page, code, "kept all the same");
    await expect(lamp(page)).toHaveText("All sent");
    await page.reload();
    await expect(page.getByText("kept all the same")).toBeVisible();
    expect((await server.entries()).map((entry) => entry.kind)).toEqual(["pack-added", "note"]);
  });
}

test("a browser that opens no database, as private windows may: said, and no screen pretends", async ({ page, server }) => {
  await open(page);
  const code = await addPack(page, { name: "Pink 4" });
  await expect(lamp(page)).toHaveText("All sent");
  await page.addInitScript(() => {
    const { open } = IDBFactory.prototype;
    IDBFactory.prototype.open = function (name) {
      const opening = open.call(this, `no ${name}`, 1);
      opening.addEventListener("upgradeneeded", (event) => {
        event.stopImmediatePropagation();
        opening.transaction?.abort(); // then it fails as the browser's own refusal does: by an error event
      });
      return opening;
    };
  });

  for (const path of ["/", `/p/${code}`, `/p/${code}/quick`, "/setup/team", "/unsent"]) {
    await page.goto(path);
    const alert = page.getByRole("alert").filter({ hasText: "The journal on this device could not be opened." });
    await expect(alert, path).toContainText("open packwright in an ordinary window or another browser, and write readings on paper until then");
    await expect(page.getByText("Nothing can be shown or saved here until the journal opens."), path).toBeVisible();
    await expect(lamp(page), path).toHaveText("No journal");
    for (const pretence of [/^No pack/, /Nothing waits/, /All sent/, /Reading the journal/, /Add the first pack/]) {
      await expect(page.getByText(pretence), path).toHaveCount(0);
    }
  }
  await inspect(page, "no journal");
  await page.goto("/setup");
  await expect(page.locator("dl div").filter({ hasText: "Not yet on the server" }).locator("dd")).toHaveText("not known");
  await field(page, "initials").fill("KM");
  await expect(page.getByText(/^Not saved: this device's storage cannot be opened/)).toBeVisible();

  await page.goto("/add"); // a form can be filled in, but not saved
  await fillAll(page, { name: "Pink 5" });
  const save = page.getByRole("button", { name: "Save pack" });
  await expect(save).toBeDisabled();
  await save.click({ force: true });
  await expect(page.getByText(/added$/)).toBeHidden();
  expect(new URL(page.url()).pathname).toBe("/add");
  await expect(field(page, "name")).toHaveValue("Pink 5");
  expect((await server.health()).head).toBe(1);
});
