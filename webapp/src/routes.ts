// The routes: a screen is a row here and a file in views/. Labels open /P/CODE
// from any camera, so paths fold case.

export type Route =
  | { screen: "packs" }
  | { screen: "add"; code: string }
  | { screen: "scan" }
  | { screen: "pack"; code: string }
  | { screen: "edit"; code: string }
  | { screen: "finding"; code: string }
  | { screen: "label"; code: string }
  | { screen: "health"; code: string }
  | { screen: "wiggle"; code: string }
  | { screen: "repair"; code: string }
  | { screen: "lead"; code: string }
  | { screen: "charges"; code: string }
  | { screen: "run"; code: string }
  | { screen: "rundetail"; code: string; entry: string }
  | { screen: "guided"; code: string }
  | { screen: "quick"; code: string }
  | { screen: "test"; code: string; entry: string }
  | { screen: "board" }
  | { screen: "import" }
  | { screen: "paper" }
  | { screen: "setup" }
  | { screen: "team" }
  | { screen: "season" }
  | { screen: "journal" }
  | { screen: "stored" }
  | { screen: "devices" }
  | { screen: "wipe" }
  | { screen: "join" }
  | { screen: "take" }
  | { screen: "handover" }
  | { screen: "unsent" }
  | { screen: "nowhere" };

const topScreens = ["scan", "board", "import", "paper", "unsent", "join", "take", "handover"] as const;
const setupScreens = ["team", "season", "journal", "stored", "devices", "wipe"] as const;
const packScreens = ["edit", "finding", "label", "quick", "health", "wiggle", "repair", "lead", "charges"] as const;

/** The route a path names; any case, with or without a slash at the end. */
export function parse(path: string): Route {
  const parts = path
    .split("/")
    .filter((part) => part !== "")
    .map(decode);
  const [first = "", second = "", third = "", fourth = ""] = parts;
  const code = second.toUpperCase();
  switch (first.toLowerCase()) {
    case "":
      return { screen: "packs" };
    case "index.html":
      return { screen: "packs" };
    case "add":
      return { screen: "add", code };
    case "setup":
      return { screen: setupScreens.find((name) => name === second.toLowerCase()) ?? "setup" };
    case "p": {
      if (code === "") return { screen: "nowhere" };
      const page = third.toLowerCase();
      if (page === "") return { screen: "pack", code };
      if (page === "test") {
        return fourth === "" ? { screen: "guided", code } : { screen: "test", code, entry: fourth.toUpperCase() };
      }
      if (page === "run") {
        return fourth === "" ? { screen: "run", code } : { screen: "rundetail", code, entry: fourth.toUpperCase() };
      }
      const known = packScreens.find((name) => name === page);
      return known ? { screen: known, code } : { screen: "nowhere" };
    }
  }
  return { screen: topScreens.find((name) => name === first.toLowerCase()) ?? "nowhere" };
}

function decode(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part; // a stray percent sign is not an escape
  }
}
