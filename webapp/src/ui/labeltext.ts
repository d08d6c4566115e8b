/** What a label's QR code says: capitals, which it holds in its compact alphanumeric mode. */
export function labelText(base: string, code: string): string {
  return `${base.trim().replace(/\/+$/, "")}/P/${code}`.toUpperCase();
}
