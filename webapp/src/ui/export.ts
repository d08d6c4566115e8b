// What leaves the app as a file.
import { exportFile } from "../data/journal";

/** download hands a file to the browser's downloads. */
export function download(name: string, content: Blob): void {
  const url = URL.createObjectURL(content);
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 60_000); // the browser may still be reading it
}

/** saveExport downloads the phone's journal. */
export async function saveExport(): Promise<void> {
  download(`packwright-journal-${new Date().toISOString().slice(0, 10)}.jsonl`, await exportFile());
}
