import { expect, test } from "@playwright/test";
import { parse } from "../src/routes";

test("a label's address opens its pack, in any case", () => {
  for (const path of ["/p/7K3QX9", "/P/7K3QX9", "/P/7k3qx9/", "//p//7k3qx9"]) {
    expect(parse(path), path).toEqual({ screen: "pack", code: "7K3QX9" });
  }
});

test("pages of a pack", () => {
  expect(parse("/p/7k3qx9/test")).toEqual({ screen: "guided", code: "7K3QX9" });
  expect(parse("/p/7K3QX9/TEST/01jdabc")).toEqual({ screen: "test", code: "7K3QX9", entry: "01JDABC" });
  expect(parse("/p/7K3QX9/quick")).toEqual({ screen: "quick", code: "7K3QX9" });
  for (const screen of ["health", "wiggle", "repair", "lead"]) expect(parse(`/p/7K3QX9/${screen}`)).toEqual({ screen, code: "7K3QX9" });
  expect(parse("/p/7k3qx9/charges")).toEqual({ screen: "charges", code: "7K3QX9" });
  expect(parse("/p/7k3qx9/run")).toEqual({ screen: "run", code: "7K3QX9" });
  expect(parse("/P/7K3QX9/RUN/01jdabc")).toEqual({ screen: "rundetail", code: "7K3QX9", entry: "01JDABC" });
  expect(parse("/p/7K3QX9/pack").screen).toBe("nowhere");
});

test("screens about devices and networks", () => {
  for (const screen of ["join", "take", "handover", "scan", "paper", "unsent", "board", "import"]) expect(parse(`/${screen.toUpperCase()}/`)).toEqual({ screen });
  for (const screen of ["team", "season", "stored", "devices", "wipe"]) expect(parse(`/setup/${screen}`)).toEqual({ screen });
});

test("what leads nowhere says so", () => {
  expect(parse("/p").screen).toBe("nowhere");
  expect(parse("/p/%").screen).toBe("pack"); // the core says that it is no code
  expect(parse("/elsewhere").screen).toBe("nowhere");
  expect(parse("/setup/elsewhere").screen).toBe("setup");
});
