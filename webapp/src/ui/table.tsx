// A table that scrolls within the page where it is wider than a phone.
import { type ComponentChildren } from "preact";

/** The heading of a column of numbers; it stands to the right, as they do. */
export const num = (words: string) => ({ num: words });

interface Props {
  label: string; // for screen readers: what scrolls here
  heads: (string | { num: string } | false)[];
  caption?: ComponentChildren;
  long?: boolean; // scrolls up and down too
  class?: string;
  children: ComponentChildren; // the rows
}

export function Table({ label, heads, caption, long, class: kind, children }: Props) {
  return (
    <div class={long ? "table-wrap long" : "table-wrap"} tabIndex={0} role="region" aria-label={label}>
      <table class={kind}>
        {caption && <caption class="small">{caption}</caption>}
        <thead>
          <tr>
            {heads.map((head) =>
              typeof head === "string" ? (
                <th key={head} scope="col">
                  {head}
                </th>
              ) : (
                head && (
                  <th key={head.num} scope="col" class="num">
                    {head.num}
                  </th>
                )
              ),
            )}
          </tr>
        </thead>
        <tbody>{children}</tbody>
      </table>
    </div>
  );
}
