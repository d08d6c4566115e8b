// Words that must not be missed: warnings, problems, things to know.
import { type ComponentChildren } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { asProblem } from "../core/problem";
import type { Warning } from "../views/model";
import { capital } from "./format";
import { Icon } from "./icon";

interface NoticeProps {
  warm?: boolean; // something is wrong, rather than good to know
  live?: "alert" | "status";
  children: ComponentChildren;
}

export function Notice({ warm, live, children }: NoticeProps) {
  return (
    <div class={warm ? "note warm" : "note"} role={live}>
      <Icon name={warm ? "alert" : "info"} />
      <div class="note-body">{children}</div>
    </div>
  );
}

/** What is wrong, and what to do about it. */
export interface Complaint {
  text: string;
  hint: string;
  field?: string;
}

/** Any thrown value as a complaint. */
export function complaintOf(thrown: unknown): Complaint {
  const { text, hint, field } = asProblem(thrown);
  return { text, hint, field };
}

/** A core text, which has neither capital nor full stop, as a sentence; after a question as two. */
export function sentence(text: string): string {
  const capitals = text.replace(/\? \p{Ll}/gu, (start) => start.toUpperCase());
  return capital(/[.!?]$/.test(text) ? capitals : `${capitals}.`);
}

interface FailedProps {
  what: string;
  complaint: Complaint | null;
  show?: boolean; // scroll to it: the button that was pressed is elsewhere
}

/** A failed action, and what to do about it. */
export function Failed({ what, complaint, show }: FailedProps) {
  const place = useRef<HTMLDivElement>(null);
  useEffect(() => {
    if (show && complaint) place.current?.scrollIntoView({ block: "center" });
  }, [complaint]);
  return (
    <div role="alert" ref={place}>
      {complaint && (
        <Notice warm>
          <strong>
            {what}: {complaint.text}
          </strong>
          {complaint.hint && <p>{sentence(complaint.hint)}</p>}
        </Notice>
      )}
    </div>
  );
}

export function Warnings({ list }: { list: Warning[] }) {
  return (
    <>
      {list.map((w, i) => (
        <Notice warm key={i}>
          <strong>{sentence(w.text)}</strong>
          {w.hint && <p>{sentence(w.hint)}</p>}
        </Notice>
      ))}
    </>
  );
}
