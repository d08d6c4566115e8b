// What the phone keeps for the app: the journal, as far as the browser
// promises, and the settings of whoever holds the phone.

import { addNote, addPack, expectReady, open } from "./support/app";
import { prefOf } from "./support/journal";
import { expect, type Page, test } from "./support/test";

type Answer = "promises" | "refuses";

/** stubStorage replaces the browser's answer to the request to keep what is stored; window.asked counts the requests over reloads. */
async function stubStorage(page: Page, answer: Answer): Promise<void> {
  await page.addInitScript((answer) => {
    const asked = () => Number(localStorage.getItem("asked") ?? 0);
    StorageManager.prototype.persisted = async () => answer === "promises" && asked() > 0;
    StorageManager.prototype.persist = async () => {
      localStorage.setItem("asked", String(asked() + 1));
      return answer === "promises";
    };
  }, answer);
}

const storage = (page: Page) => page.locator("dl div").filter({ has: page.getByText("Storage", { exact: true }) }).locator("dd");
const advice = (page: Page) => page.getByText("The browser has not promised to keep what is stored.");
const asked = (page: Page) => page.evaluate(() => localStorage.getItem("asked"));

for (const answer of ["promises", "refuses"] as const) {
  test(`asked to keep what is stored, the browser ${answer}`, async ({ page }) => {
    await stubStorage(page, answer);
    await open(page);
    expect(await asked(page), "not before anything is stored").toBeNull();
    const code = await addPack(page, { name: "Teal 1" });
    await addNote(page, code, "asked once is enough");
    expect(await asked(page)).toBe("1");
    const kept = answer === "promises";
    const shown = async () => {
      await expect(storage(page)).toHaveText(kept ? "kept by the browser" : "may be cleared by the browser");
      await expect(advice(page)).toBeVisible({ visible: !kept });
    };
    await page.getByRole("link", { name: "Packs" }).click(); // without a reload: the answer itself
    await page.getByRole("link", { name: "Set-up" }).click();
    await shown();
    await page.reload(); // what was promised before
    await expectReady(page);
    await shown();
    expect(await asked(page), "not asked at every start").toBe("1");
  });
}

test("light, dark or as the device: the choice stays over a reload and follows the phone only where it should", async ({ page }) => {
  const ground = () => page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);
  const expectTheme = async (theme: "light" | "dark", why: string) => {
    await expect(page.locator("html"), why).toHaveAttribute("data-theme", theme);
    const [red = 0] = (await ground()).match(/\d+/g)?.map(Number) ?? [];
    expect(red < 128 ? "dark" : "light", why).toBe(theme);
  };
  const phone = (colorScheme: "light" | "dark") => page.emulateMedia({ colorScheme });
  const choice = (name: string) => page.getByRole("radio", { name, exact: true });
  await phone("dark");
  await open(page, "/setup");
  await expect(choice("As the device")).toBeChecked();
  await expectTheme("dark", "as the phone");
  await phone("light");
  await expectTheme("light", "the phone changed");

  for (const [name, theme, other] of [["Dark", "dark", "light"], ["Light", "light", "dark"]] as const) {
    await phone(other);
    await choice(name).check();
    await expectTheme(theme, "chosen");
    await expect.poll(() => prefOf(page, "theme")).toBe(theme);
    await page.reload();
    await expectReady(page);
    await expect(choice(name)).toBeChecked();
    await expectTheme(theme, "after a reload");
    await page.goto("/");
    await expectReady(page);
    await expectTheme(theme, "on another screen");
    await page.goto("/setup");
  }
  await choice("As the device").check();
  await expectTheme("dark", "as the phone again");
  await expect.poll(() => prefOf(page, "theme")).toBe("auto");
  await page.reload();
  await expectReady(page);
  await expect(choice("As the device")).toBeChecked();
  await phone("light");
  await expectTheme("light", "and it follows");
});
