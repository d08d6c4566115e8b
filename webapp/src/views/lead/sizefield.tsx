// The size of a wire as people write it, and what the core read.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { call } from "../../core/bridge";
import type { WireSize } from "../../core/types";
import { TextField } from "../../ui/fields";
import { plain } from "../../ui/format";
import { complaintOf, type Complaint } from "../../ui/notice";

interface Props {
  name: string;
  text: string;
  onText: (text: string) => void;
}

export function SizeField({ name, text, onText }: Props) {
  const read = useSignal<{ words: string; complaint: Complaint | null }>({ words: "", complaint: null });
  const focused = useSignal(false);
  useEffect(() => {
    let current = true;
    read.value = { words: "", complaint: null };
    if (text.trim() === "") return;
    call("read-size", { text }).then(
      (size) => current && (read.value = { words: `= ${words(size)}`, complaint: null }),
      (error) => current && (read.value = { words: "", complaint: complaintOf(error) }),
    );
    return () => {
      current = false;
    };
  }, [text]);
  return (
    <TextField
      name={name}
      label="Size"
      help={read.value.words || "16 AWG or 1.5 mm²"}
      text={text}
      autocapitalize="none"
      complaint={focused.value ? undefined : (read.value.complaint ?? undefined)}
      onFocused={(on) => (focused.value = on)}
      onText={onText}
    />
  );
}

function words({ awg, area_mm2 }: WireSize): string {
  if (awg === undefined) return `${plain(area_mm2 ?? 0)} mm²`;
  return awg < 0 ? `${1 - awg}/0 AWG` : `${awg} AWG`;
}
