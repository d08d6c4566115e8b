// A PDF in two taps: the server draws it and what it says is shown here; then
// a plain link opens it in a tab of its own, which no browser takes for a pop-up.
import { type Signal, useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { checkPaper } from "../data/paper";
import { refused, unsent } from "../data/status";
import { syncNow } from "../data/sync";
import { useAction } from "../ui/action";
import { Choice } from "../ui/fields";
import { readNumbers, type Complaints } from "../ui/form";
import { Failed, Notice, sentence } from "../ui/notice";
import type { Quantity } from "./model";

/** How a typed number is read, and whether it counts downwards. */
interface TypedNumber {
  quantity: Quantity;
  negative?: boolean;
}

export type Query = [name: string, value: string][];

interface PDFProps {
  name: string; // of the paper, in its address
  what: string; // in words, after "Prepare" and "Open"
  query: Query; // empty values keep the server's own defaults
  numbers?: Record<string, TypedNumber>; // by name in the query: values that were typed as numbers
  faults?: Complaints; // found in the other fields
  show?: (complaints: Complaints) => boolean; // beside the fields; says whether there are any
}

interface Drawn {
  choices: string; // it was drawn for
  href: string;
  warnings: string[];
}

export function PDF({ name, what, query, numbers = {}, faults = {}, show }: PDFProps) {
  const drawn = useSignal<Drawn | null>(null);
  const act = useAction();
  const choices = JSON.stringify([query, numbers]);
  const ready = drawn.value?.choices === choices ? drawn.value : null;
  const link = useRef<HTMLAnchorElement>(null);
  useEffect(() => link.current?.focus({ preventScroll: true }), [ready]); // where the button was
  const prepare = () =>
    act.run(async () => {
      const typed = Object.fromEntries(query);
      const read = await readNumbers(numbers, typed);
      if (show?.({ ...faults, ...read.complaints })) return;
      const words = ([field, value]: Query[number]) => {
        const number = read.numbers[field];
        return number === undefined ? value : String(numbers[field]?.negative ? -number : number);
      };
      const given = query.map((pair) => [pair[0], words(pair)]).filter(([, value]) => value !== "");
      if (unsent.value > refused.value.length) await syncNow(); // the server prints what it holds
      const href = `/api/v1/${name}.pdf?${new URLSearchParams(given)}`;
      drawn.value = { choices, href, warnings: await checkPaper(href) };
    });
  return (
    <>
      <Failed show what="Not prepared" complaint={act.failed.value} />
      <div role="status" class="stack">
        {ready?.warnings.map((warning, i) => (
          <Notice warm key={i}>
            {sentence(warning)}
          </Notice>
        ))}
      </div>
      {ready ? (
        <a ref={link} class="button main" href={ready.href} target="_blank" rel="noopener">
          Open {what}
        </a>
      ) : (
        <button type="button" class="button main" onClick={prepare} aria-disabled={act.busy.value}>
          {act.busy.value ? `Preparing ${what} …` : `Prepare ${what}`}
        </button>
      )}
    </>
  );
}

export type PaperSize = "A4" | "Letter";

const papers: [PaperSize, string][] = [
  ["A4", "A4"],
  ["Letter", "US Letter"],
];

export function PaperChoice({ legend, name, paper }: { legend: string; name: string; paper: Signal<PaperSize> }) {
  return <Choice legend={legend} name={name} options={papers} value={paper.value} onChoose={(size) => (paper.value = size)} />;
}
