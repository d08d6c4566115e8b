// A line of a list of ways to other screens.
import { Icon } from "./icon";

export function LinkLine({ href, words, away }: { href: string; words: string; away?: boolean }) {
  return (
    <li>
      <a href={href} {...(away && { target: "_blank", rel: "noopener" })}>
        {words}
        <Icon name="next" />
      </a>
    </li>
  );
}
