// How far the way to the server can be trusted, in words, and what to do.
import { welcomePage } from "../data/status";
import type { Tier } from "../data/tier";
import { Notice } from "./notice";

interface TierWords {
  name: string;
  means: string;
  todo?: { words: string; href: () => string }; // to nowhere where there is no such page
  brief?: string; // for the notice on every screen
}

/** Each tier by its name, what it means for the person, and the way to a better one. */
export const tierWords: Record<Tier, TierWords> = {
  trusted: { name: "Encrypted and trusted", means: "Everything works, also without a network." },
  clicked: {
    name: "Encrypted, but not trusted",
    means:
      "A certificate warning was passed over here. Whoever sits in between on this network can read everything and take over this device's access, a lead's too. And the app opens only while the server can be reached. Trust the server's certificate properly, then reload.",
    todo: { words: "How to trust the server", href: () => welcomePage.value },
    brief: "Somebody in between could read all of it and take over this device's access; nothing opens without the server.",
  },
  plain: {
    name: "Not encrypted",
    means: "Results are worked out and kept in this browser. Nothing is sent, and no pack of the team is shown.",
    todo: { words: "Hand over to the encrypted address", href: () => "/handover" },
    brief: "Kept in this browser, not sent.",
  },
  here: { name: "This machine", means: "The server runs on this machine, so nobody has to sign in." },
};

/** For the top of every screen; nothing while the way is a good one. */
export function TierNotice({ tier }: { tier: Tier }) {
  const { name, brief, todo } = tierWords[tier];
  const href = todo?.href();
  return (
    todo && (
      <Notice warm>
        <p>
          <strong>{name}.</strong> {brief} {href && <a href={href}>{todo.words}</a>}
        </p>
      </Notice>
    )
  );
}
