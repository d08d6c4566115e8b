// Wires theme, data, router and views; nothing else.
import "./style/index.css";
import { effect } from "@preact/signals";
import { render } from "preact";
import { App } from "./app";
import { prefs } from "./data/prefs";
import { startData } from "./data/start";
import { registerServiceWorker } from "./data/update";
import { startRouter } from "./router";

const darkPhone = matchMedia("(prefers-color-scheme: dark)");

function showTheme(): void {
  const { theme } = prefs.value;
  document.documentElement.dataset.theme = theme === "auto" ? (darkPhone.matches ? "dark" : "light") : theme;
}

effect(showTheme);
darkPhone.addEventListener("change", showTheme);
startRouter();
render(<App />, document.getElementById("app") as HTMLElement);
void startData();
void registerServiceWorker();
