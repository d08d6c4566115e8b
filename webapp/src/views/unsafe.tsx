// The words that keep a pack with an open safety finding off the load.
import { type ComponentChildren } from "preact";
import { Notice } from "../ui/notice";

export function Unsafe({ findings, children }: { findings: string[]; children?: ComponentChildren }) {
  if (findings.length === 0) return null;
  return (
    <Notice warm live="alert">
      <strong>Do not connect this pack: {findings.join(", ")}.</strong>
      <p>It is tested again only after someone qualified has dealt with the finding and closed it.</p>
      {children}
    </Notice>
  );
}
