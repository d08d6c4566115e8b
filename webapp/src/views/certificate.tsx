// The server's certificate on this device: the one thing that the app cannot
// remove, as the system keeps it.
import { tier, welcomePage } from "../data/status";

/** Where it is and how to remove it; nothing on the server's own machine, which needs none. */
export function CertificateWords() {
  if (tier.value === "here") return null;
  return (
    <p>
      If the server's certificate was installed on this device to trust it, it stays, as the system keeps it and not the browser. How to remove it
      stands, for each system, on the server's welcome page
      {welcomePage.value ? (
        <>
          : <a href={welcomePage.value}>{welcomePage.value}</a>
        </>
      ) : (
        ", at the address that packwright serve shows on the laptop"
      )}
      .
    </p>
  );
}
