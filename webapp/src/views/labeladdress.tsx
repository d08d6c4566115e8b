// The address that labels open, asked for where they are made: once they are
// printed it stays for the life of a pack.
import { useSignal } from "@preact/signals";
import { mayLead } from "../data/rights";
import { record } from "../data/journal";
import { useAction } from "../ui/action";
import { TextField } from "../ui/fields";
import { useComplaints } from "../ui/form";
import { Failed, Notice, sentence, type Complaint } from "../ui/notice";
import { say } from "../ui/toast";
import { addressDoubt, labelBase, mismatch, ownAddress } from "./labelbase";

/** The server's own address where it will do on a label; else an example. */
export function exampleAddress(): string {
  const own = ownAddress();
  return addressDoubt(own) ? "https://pit.local:8443" : own;
}

/** Under a field for the address: the server's own by one tap, and a word where another one is typed. */
export function AddressAdvice({ typed, onUse }: { typed: string; onUse: (address: string) => void }) {
  const own = ownAddress();
  if (addressDoubt(own)) return null; // it will not do itself
  const found = mismatch(typed, own);
  const use = (
    <button type="button" class="button small" onClick={() => onUse(own)}>
      Use {own}
    </button>
  );
  return (
    <div role="status" class="stack">
      {found ? (
        <Notice warm={found.wrong}>
          <strong>{sentence(found.text)}</strong>
          <p>{sentence(found.hint)}</p>
          {use}
        </Notice>
      ) : (
        typed.trim() === "" && use
      )}
    </div>
  );
}

/** useAsked gives a complaint about an address that is surely not the server's, once: who saves the same again means it. */
export function useAsked(): (typed: string) => Complaint | null {
  const asked = useSignal("");
  return (typed) => {
    const found = addressDoubt(ownAddress()) ? null : mismatch(typed, ownAddress());
    if (!found?.wrong || asked.value === typed) return null;
    asked.value = typed;
    return { text: found.text, hint: `${found.hint}; a label is for life: save once more if this is meant` };
  };
}

export function LabelAddress() {
  const base = labelBase();
  const doubt = addressDoubt(base);
  const off = addressDoubt(ownAddress()) ? null : mismatch(base, ownAddress());
  if (!doubt && !off?.wrong) {
    return (
      <p class="small quiet">
        The labels open {base}.{" "}
        {mayLead() ? (
          <>
            <a href="/setup/team">Change it under Meter, load and limits</a> before the first print, not after.
          </>
        ) : (
          "A lead can change it before the first print."
        )}
      </p>
    );
  }
  return (
    <Notice warm>
      <strong>{doubt ?? sentence(off?.text ?? "")}</strong>
      {mayLead() ? (
        <>
          <p>The labels open {base} now. Set the address that phones will use before you print: a label stays on its pack for life.</p>
          <AddressForm />
        </>
      ) : (
        <p>The labels open {base} now. A lead sets the right address, under Paper or Set-up: ask one before you print. A label stays on its pack for life.</p>
      )}
    </Notice>
  );
}

function AddressForm() {
  const text = useSignal("");
  const form = useComplaints();
  const act = useAction();
  const ask = useAsked();
  const field = form.field("base_url", text.value, (typed) => (text.value = typed));
  const keep = (event: Event) => {
    event.preventDefault();
    void act.run(async () => {
      const typed = text.value.trim();
      const fault = typed ? ask(typed) : { text: "there is no address yet", hint: `write it like ${exampleAddress()}` };
      if (form.show(fault ? { base_url: fault } : {})) return;
      await record("team-changed", "", { base_url: typed });
      say("Address saved for the team");
    }, form.place);
  };
  return (
    <>
      <form class="stack" noValidate onSubmit={keep}>
        <TextField
          {...field}
          label="Address on labels"
          type="url"
          help={`For example ${exampleAddress()}, shared by the team`}
          most={100}
          autocapitalize="none"
        />
        <AddressAdvice typed={text.value} onUse={field.onText} />
        <button type="submit" class="button small">
          Save address
        </button>
      </form>
      <Failed what="Not saved" complaint={act.failed.value} />
    </>
  );
}
