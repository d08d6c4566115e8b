// What is kept where, in plain words.
import { tier } from "../data/status";
import { Panel, Screen } from "../ui/screen";
import { CertificateWords } from "./certificate";

export function Stored() {
  return (
    <Screen title="What is stored where" back={["/setup", "Set-up"]}>
      <Panel title="On this device">
        <ul class="bullets">
          <li>
            The journal: every entry made here and every entry received from the server. Entries are never changed; a mistake is voided by
            another entry.
          </li>
          <li>Half-filled forms, until they are saved or dropped.</li>
          <li>Your initials, the choice of light or dark, sound and vibration.</li>
          <li>The name this device was given when it joined, and its role.</li>
          <li>
            One cookie: a random key by which the server knows this device. Scripts cannot read it, only this server gets it, and taking this
            device off the list, or leaving, makes it worthless.
          </li>
          <li>A random number that names this device. It says nothing about you.</li>
          <li>The app itself, so that it opens without a network.</li>
          {tier.value !== "here" && <li>The server's certificate, where it was installed to trust the server. The system keeps it, not the app.</li>}
        </ul>
      </Panel>
      <Panel title="On the team's server">
        <ul class="bullets">
          <li>The same journal, from all devices. Its entries carry initials and the device's number, nothing else about a person.</li>
          <li>
            A list of the devices that joined: the name each was given, its role, when it joined and was last seen, and how many entries it had
            not sent. Of its key only a fingerprint is kept.
          </li>
          <li>Nothing else: no positions, no pictures, no counts of visits.</li>
        </ul>
      </Panel>
      <Panel title="Nowhere else">
        <p>
          Nobody is asked for a name, an age or an e-mail address. The app talks to the server it came from and to nobody else. The camera's
          picture is read on the device and thrown away.
        </p>
      </Panel>
      <Panel title="If it is lost">
        <p>
          If the device is lost, what it had sent is on the server; what it had not is gone. If the server is lost, any device that has synced
          gives everything back to a new one. Clearing this site's data in the browser deletes the journal on this device: save it as a file
          first.
        </p>
      </Panel>
      <Panel title="To get rid of it">
        <p>Wiping deletes all that is listed under “On this device”{tier.value !== "here" && ", except the certificate"}. Entries that were sent stay in the team's journal.</p>
        <CertificateWords />
        <a class="button" href="/setup/wipe">
          Wipe this device
        </a>
      </Panel>
    </Screen>
  );
}
