// How far the way to the server can be trusted. A browser does not say it in so
// many words: only trying to register the service worker tells a trusted
// certificate from a warning that somebody clicked away.

/**
 * trusted: https that this device trusts; everything works. clicked: https after
 * a warning; nothing offline. plain: http over a network; no sync, no camera.
 * here: this machine's own server; no network in between.
 */
export type Tier = "trusted" | "clicked" | "plain" | "here";

/** tierOf is the tier as far as the address tells it; browsers take http for secure only within one machine. */
export function tierOf(protocol: string | undefined, secure: boolean | undefined): Tier {
  if (protocol === "https:") return "trusted"; // until the service worker is refused
  return secure ?? true ? "here" : "plain";
}
