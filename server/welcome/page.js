// The live check of the welcome page. A browser that was told to go on past its
// warning reaches the encrypted address too, but does not trust it: nothing works
// offline. So the check asks this page's own door in TLS, which shows each
// connection another certificate: nobody can have clicked that one through, and an
// answer means trust. The page works without the check.
"use strict";

const state = document.getElementById("state");
const said = document.getElementById("said");
const open = document.getElementById("open");
const rest = document.getElementById("rest");
const origins = document.body.dataset.origins.split(" "); // by name, then by number where the page was opened so
const checks = document.body.dataset.checks.split(" "); // of each

async function answers(url) {
  try {
    await fetch(url, { mode: "no-cors", cache: "no-store", credentials: "omit", signal: AbortSignal.timeout?.(4000) });
    return true; // what it says cannot be read from here, only that it came
  } catch {
    return false;
  }
}

function show(is, text) {
  if (state.dataset.state === is) return; // said once: screen readers repeat every change
  state.dataset.state = is;
  said.textContent = text;
}

async function look() {
  const trusted = await Promise.all(checks.map((check) => answers(check + "/welcome/trusted")));
  if (trusted[0]) return ready(origins[0], "This device trusts the server.");
  if (trusted[1]) {
    return ready(
      origins[1],
      "This device trusts the server but does not find its name. It opens the number: if that changes, readings not yet sent stay under the old one. Send all before, then join again.",
    );
  }
  const reached = await Promise.all(origins.map((origin) => answers(origin + "/api/v1/trusted")));
  if (reached.includes(true)) show("tapped", "Tapped through the warning, not trusted: nothing would work without the network. Install the certificate.");
  else show("no", "Not trusted yet. This turns green by itself.");
  setTimeout(look, 3000);
}

function ready(origin, text) {
  open.href = origin + "/join";
  document.getElementById("go").hidden = false;
  rest.open = false;
  for (const other of document.querySelectorAll("details .main")) other.classList.remove("main");
  show("yes", text);
}

// An iPad says it is a Mac; a Mac has no touch screen.
const mac = document.getElementById("macos");
const ios = document.getElementById("ios");
if (mac.open && navigator.maxTouchPoints > 1) {
  mac.open = false;
  ios.open = true;
  mac.before(ios);
}
look();
