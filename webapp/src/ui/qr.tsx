// A QR code on the screen: a chunk of its own, for the screens that show one.
import { modulesOf } from "./qrcode";

export function QR({ text }: { text: string }) {
  const rows = modulesOf(text);
  const black = rows.flatMap((row, y) => row.flatMap((on, x) => (on ? [`M${x} ${y}h1v1h-1z`] : [])));
  return (
    <svg class="qr" viewBox={`0 0 ${rows.length} ${rows.length}`} shape-rendering="crispEdges" role="img" aria-label={`QR code of ${text}`}>
      <path d={black.join("")} />
    </svg>
  );
}
