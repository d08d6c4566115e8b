// The frame of every screen: where it sits, its heading, its main action.
import { type ComponentChildren } from "preact";
import { useEffect, useLayoutEffect, useRef } from "preact/hooks";
import { touched } from "../router";
import { Icon } from "./icon";
import { SyncLamp } from "./synclamp";

interface ScreenProps {
  title: string;
  /** Shown instead of the title, where the heading is more than text. */
  heading?: ComponentChildren;
  /** Where the link at the top left leads: [path, words]. None on the home screen. */
  back?: [string, string];
  /** Links in the bar, on the home screen only. */
  links?: ComponentChildren;
  /** The actions at the bottom, in thumb reach. */
  dock?: ComponentChildren;
  wide?: boolean;
  children: ComponentChildren;
}

export function Screen(props: ScreenProps) {
  const heading = useHeadingFocus();
  useTitle(props.title);
  return (
    <>
      <header class="bar">
        {props.back ? (
          <a class="back" href={props.back[0]}>
            <Icon name="back" />
            <span>{props.back[1]}</span>
          </a>
        ) : (
          <a class="brand" href="/" aria-label="packwright, home">
            <Icon name="brand" />
            <span>packwright</span>
          </a>
        )}
        {props.links && (
          <nav class="bar-links" aria-label="Main">
            {props.links}
          </nav>
        )}
        <SyncLamp />
      </header>
      <main class={props.wide ? "sheet wide" : "sheet"}>
        <div class="head">
          <h1 ref={heading} tabIndex={-1}>
            {props.heading ?? props.title}
          </h1>
        </div>
        {props.children}
        {props.dock && (
          <div class="dock" role="group" aria-label="Actions">
            <div class="dock-in">{props.dock}</div>
          </div>
        )}
      </main>
    </>
  );
}

/** Moves focus to the heading of a new screen, once the person has touched the app; at once, or it is taken from a field already touched. */
function useHeadingFocus() {
  const heading = useRef<HTMLHeadingElement>(null);
  useLayoutEffect(() => {
    if (touched.value) heading.current?.focus({ preventScroll: true });
  }, []);
  return heading;
}

export function useTitle(title: string): void {
  useEffect(() => {
    document.title = `${title} – packwright`;
  }, [title]);
}

/** A titled part of a screen. */
export function Panel({ title, children }: { title: string; children: ComponentChildren }) {
  return (
    <section class="panel" aria-label={title}>
      <h2>{title}</h2>
      {children}
    </section>
  );
}
