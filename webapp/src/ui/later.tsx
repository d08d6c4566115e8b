// Screens that are loaded when first shown: the first screen waits for less.
// They are in the offline cache like everything else.
import { type ComponentType, type JSX } from "preact";
import { useEffect, useState } from "preact/hooks";

/** A component that shows what load gives, once it is there. */
export function later<P extends object>(load: () => Promise<ComponentType<P>>): (props: P) => JSX.Element | null {
  let loaded: ComponentType<P> | null = null;
  return function Later(props: P) {
    const [failed, setFailed] = useState<unknown>(null);
    const [, setHere] = useState(loaded !== null);
    useEffect(() => {
      if (loaded) return;
      load().then((component) => {
        loaded = component;
        setHere(true);
      }, setFailed);
    }, []);
    if (failed) throw failed; // to the app's error screen, which offers to try again
    const Loaded = loaded;
    return Loaded && <Loaded {...props} />;
  };
}
