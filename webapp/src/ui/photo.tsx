// A photo of the label instead of the live camera: for browsers that give no
// camera to a page, as over plain http.
import { useRef } from "preact/hooks";
import { Problem } from "../core/problem";
import { useAction } from "./action";
import { openDecoder } from "./decoder";
import { Failed } from "./notice";
import { unlockSound } from "./signals";

const sidesPX = [1600, 800, 4000]; // longest side tried, in turn: a code may be small in the picture, or out of focus

/** A button that takes a photo, or picks one, and hands on the texts of the codes in it until one is taken. */
export function Photo({ onText, main }: { onText: (text: string) => Promise<boolean>; main?: boolean }) {
  const input = useRef<HTMLInputElement>(null);
  const act = useAction();
  const read = () =>
    act.run(async () => {
      const file = input.current?.files?.[0];
      if (!file) return;
      try {
        const texts = await textsIn(file);
        for (const text of texts) if (await onText(text)) return;
        if (texts.length === 0) {
          throw new Problem("not_found", "no square was found in the photo", "go closer, hold still, mind the glare, or type the code");
        }
      } finally {
        if (input.current) input.current.value = ""; // the same file may be chosen again
      }
    });
  return (
    <>
      <input ref={input} hidden type="file" accept="image/*" capture="environment" onChange={read} />
      <button
        type="button"
        class={main ? "button main" : "button"}
        aria-disabled={act.busy.value}
        onClick={() => {
          unlockSound();
          input.current?.click();
        }}
      >
        {act.busy.value ? "Reading the photo …" : "Read a photo of the label"}
      </button>
      <Failed what="Not read" complaint={act.failed.value} />
    </>
  );
}

async function textsIn(file: Blob): Promise<string[]> {
  const decoder = await openDecoder();
  const whole = await createImageBitmap(file).catch(() => {
    throw new Problem("invalid", "that is no picture this browser can read", "take a photo, or type the code");
  });
  try {
    for (const side of sidesPX) {
      const scale = side / Math.max(whole.width, whole.height);
      if (scale > 1 && side !== sidesPX[0]) continue; // as it is was tried
      const shrunk = await createImageBitmap(whole, {
        resizeWidth: Math.max(1, Math.round(whole.width * Math.min(1, scale))),
        resizeHeight: Math.max(1, Math.round(whole.height * Math.min(1, scale))),
        resizeQuality: "high",
      });
      const texts = await decoder.detect(shrunk);
      shrunk.close();
      if (texts.length > 0) return texts;
    }
    return [];
  } finally {
    whole.close();
  }
}
