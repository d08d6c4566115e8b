// What every screen has to stand: every rule of axe, targets large enough for a
// thumb, no scrolling sideways, and a way to its main action by keyboard.

import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import type { AxeResults, RunOptions } from "axe-core";
import { expect, type Locator, type Page } from "@playwright/test";

const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

type Axe = { getRules(): { ruleId: string; tags: string[] }[]; run(options: RunOptions): Promise<AxeResults> };

/** Every rule of axe runs, also those of level AAA and those on trial, except these. */
const rulesThatCannotApply: Record<string, string> = {
  "p-as-heading": "it takes a large bold paragraph for a heading; here those are the figures that are read from afar",
};

const phone = { width: 360, height: 740 };
const laptop = { width: 1280, height: 800 };
const narrow = { width: 320, height: 640 }; // also a laptop's window at 400 % (WCAG 1.4.10)

const leastTargetPX = 48; // a thumb in a hurry; WCAG 2.5.5 asks for 44

/** inspect checks the screen that is shown; faults fail the test, which goes on to the next screen. */
export async function inspect(page: Page, screen: string): Promise<void> {
  expect.soft(await faultsOf(page), screen).toEqual([]);
}

/** faultsOf lists what is wrong with the screen that is shown, at every size, and in the dark at one: a theme changes colours alone. */
export async function faultsOf(page: Page): Promise<string[]> {
  const faults: string[] = [];
  for (const size of [narrow, phone, laptop]) {
    await page.setViewportSize(size);
    const width = await page.evaluate(() => document.documentElement.scrollWidth);
    if (width > size.width) faults.push(`scrolls sideways at ${size.width} px: ${width} px wide`);
    if (size !== laptop) faults.push(...(await smallTargets(page)).map((target) => `small at ${size.width} px: ${target}`));
    if (size === narrow) continue;
    for (const colorScheme of size === laptop ? (["light", "dark"] as const) : (["light"] as const)) {
      await page.emulateMedia({ colorScheme, reducedMotion: "reduce" });
      faults.push(...(await violations(page, colorScheme === "dark")).map((broken) => `${size.width} × ${size.height}, ${colorScheme}: ${broken}`));
    }
  }
  await page.setViewportSize(phone);
  return faults;
}

/** violations of all rules, or of those about colour alone: nothing else differs between the themes. */
async function violations(page: Page, colourAlone: boolean): Promise<string[]> {
  if (!(await page.evaluate(() => "axe" in globalThis))) await page.evaluate(axeSource);
  await page.evaluate(() => scrollTo(0, 0)); // what a bar covers depends on where the page stands, and it can be moved
  const results = await page.evaluate(([without, colourAlone]) => {
    const { axe } = globalThis as unknown as { axe: Axe };
    const rules = axe
      .getRules()
      .filter(({ ruleId, tags }) => !without.includes(ruleId) && !tags.includes("deprecated") && (!colourAlone || tags.includes("cat.color")));
    return axe.run({ runOnly: { type: "rule", values: rules.map(({ ruleId }) => ruleId) }, resultTypes: ["violations"] });
  }, [Object.keys(rulesThatCannotApply), colourAlone] as const);
  return results.violations.flatMap((broken) => broken.nodes.map((node) => `${broken.id}: ${node.html}: ${node.failureSummary}`));
}

/**
 * smallTargets lists controls that a thumb may miss. A box to tick counts with
 * its label. Links inside a sentence are exempt (WCAG 2.5.5, "inline").
 */
function smallTargets(page: Page): Promise<string[]> {
  return page.evaluate((least) => {
    const controls = [...document.querySelectorAll<HTMLElement>("a[href], button, input, select, textarea, summary, [role=button]")];
    const targetOf = (control: HTMLElement) => (control.matches("[type=radio], [type=checkbox]") ? control.closest("label") : null) ?? control;
    const inline = (control: HTMLElement) =>
      control.matches("a") && getComputedStyle(control).display === "inline" && control.parentElement?.closest("p, li") !== null;
    return controls
      .filter((control) => targetOf(control).checkVisibility({ visibilityProperty: true, opacityProperty: true }) && !inline(control))
      .map((control) => ({ control, box: targetOf(control).getBoundingClientRect() }))
      .filter(({ box }) => box.width > 0 && (Math.round(box.width) < least || Math.round(box.height) < least))
      .map(({ control, box }) => `${control.outerHTML.slice(0, 120)}: ${Math.round(box.width)} × ${Math.round(box.height)}`);
  }, leastTargetPX);
}

/** tabTo goes through the screen by keyboard until the action has the focus. Nothing on the way may be hidden behind a bar (WCAG 2.4.11). */
export async function tabTo(page: Page, screen: string, action: Locator): Promise<void> {
  await page.setViewportSize(phone);
  await page.evaluate(() => (document.activeElement as HTMLElement | null)?.blur());
  const stops = new Set<string>();
  const hidden: string[] = [];
  for (;;) {
    await page.keyboard.press("Tab");
    const { stop, covered } = await focused(page);
    if (covered) hidden.push(stop);
    if (await action.evaluate((element) => element === document.activeElement)) break;
    if (stops.has(stop) && stop === [...stops][0]) {
      expect.soft([...stops], `${screen}: the keyboard does not reach the main action`).toContain("the main action");
      return;
    }
    stops.add(stop);
  }
  expect.soft(hidden, `${screen}: focused but out of sight`).toEqual([]);
}

/** focused tells where the focus is, and whether all of it is covered by something else. */
function focused(page: Page): Promise<{ stop: string; covered: boolean }> {
  return page.evaluate(() => {
    const focus = document.activeElement;
    if (!focus || focus === document.body) return { stop: "the page", covered: false };
    const shown = (focus.matches("[type=radio], [type=checkbox]") ? focus.closest("label") : null) ?? focus;
    const box = shown.getBoundingClientRect();
    const spots = [0.1, 0.5, 0.9].map((part) => document.elementFromPoint(box.left + box.width / 2, box.top + box.height * part));
    const covered = !spots.some((spot) => spot !== null && (shown.contains(spot) || spot.contains(shown)));
    const id = focus.id || focus.getAttribute("href") || "";
    return { stop: `${focus.outerHTML.slice(0, 100)} ${id} at ${Math.round(box.top + scrollY)}`, covered };
  });
}
