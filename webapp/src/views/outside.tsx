// First start where the team's packs are not shown: what can be done all the same.
import { access, tier } from "../data/status";
import { Icon } from "../ui/icon";
import { Screen } from "../ui/screen";
import { OffList } from "./offlist";
import { UsualValues } from "./usualvalues";

export function Outside() {
  return tier.value === "plain" ? <PlainHTTP /> : <NotJoined />;
}

/** Over plain http there is no fleet: only readings to be kept. */
function PlainHTTP() {
  return (
    <Screen
      title="Test a pack"
      links={<a href="/setup">Set-up</a>}
      dock={
        <a class="button main" href="/scan">
          <Icon name="scan" />
          Photo or code of a label
        </a>
      }
    >
      <ol class="steps">
        <li>
          <span>Type the code on the pack's label, or read the label from a photo.</span>
        </li>
        <li>
          <span>Type in the readings: the result is worked out here and kept in this browser.</span>
        </li>
        <li>
          <span>
            Later, <a href="/handover">hand them over</a> to the server's encrypted address.
          </span>
        </li>
      </ol>
      <UsualValues />
    </Screen>
  );
}

/** Nothing here, and the server does not show what it has. */
function NotJoined() {
  const out = access.value === "signed-out";
  return (
    <Screen
      title={out ? "Taken off the list" : "Not joined yet"}
      links={<a href="/setup">Set-up</a>}
      dock={
        <a class="button main" href="/join">
          Join the team's server
        </a>
      }
    >
      {out && <OffList />}
      <p>
        <strong>The team's packs are shown to devices that have joined.</strong> A lead makes an invitation under Set-up, Devices: a square to
        scan, or eight characters to type.
      </p>
      <a class="button" href="/scan">
        <Icon name="scan" />
        Scan a label all the same
      </a>
      <p>Packs can be tested here meanwhile. What is saved is kept on this device and sent once it has joined.</p>
    </Screen>
  );
}
