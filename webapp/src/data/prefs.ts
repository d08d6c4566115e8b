// Personal settings: they stay on this phone.

import { signal } from "@preact/signals";
import { store } from "./store";
import { tellTabs } from "./tabs";

export interface Prefs {
  initials: string;
  theme: "auto" | "light" | "dark";
  sound: boolean;
  vibrate: boolean;
  unasked: string; // day on which the initials were not wanted, as Date.toDateString gives it
}

/** The core takes no more characters as initials. */
export const MOST_INITIALS = 8;

export const prefs = signal<Prefs>({ initials: "", theme: "auto", sound: true, vibrate: true, unasked: "" });

/** setPref changes one setting and saves it; it rejects with a Problem if that failed. */
export async function setPref<K extends keyof Prefs>(key: K, value: Prefs[K]): Promise<void> {
  prefs.value = { ...prefs.value, [key]: value };
  await store.savePref(key, value);
  tellTabs({ prefs: true });
}

/** loadPrefs reads the saved settings; absent ones keep their default. */
export async function loadPrefs(): Promise<void> {
  prefs.value = { ...prefs.value, ...(await store.prefs()) };
}
