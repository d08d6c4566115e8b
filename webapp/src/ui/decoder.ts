// Reading QR codes from the camera or a photo: the browser's own detector where it can,
// else the bundled decoder, loaded only then and from our own address.

type Source = HTMLVideoElement | ImageBitmap;

interface Decoder {
  detect(source: Source): Promise<string[]>;
}

interface Detector {
  detect(source: Source): Promise<{ rawValue: string }[]>;
}

interface NativeDetector {
  new (options: { formats: string[] }): Detector;
  getSupportedFormats(): Promise<string[]>;
}

const qr = { formats: ["qr_code" as const] };

/** The best decoder here. A browser's own that fails later is replaced. */
export async function openDecoder(): Promise<Decoder> {
  let detector = (await native()) ?? (await bundled());
  let replaced = false;
  return {
    async detect(source) {
      try {
        return (await detector.detect(source)).map((found) => found.rawValue);
      } catch (error) {
        // Phones whose detector lives in a store service may lack it offline.
        if (replaced || (error instanceof DOMException && error.name === "InvalidStateError")) throw error;
        replaced = true;
        detector = await bundled();
        return [];
      }
    },
  };
}

async function native(): Promise<Detector | null> {
  const Native = (globalThis as { BarcodeDetector?: NativeDetector }).BarcodeDetector;
  if (!Native) return null;
  try {
    const formats = await Native.getSupportedFormats();
    return formats.includes("qr_code") ? new Native(qr) : null;
  } catch {
    return null;
  }
}

async function bundled(): Promise<Detector> {
  const { BarcodeDetector, prepareZXingModule, wasmURL } = await import("./bundleddecoder");
  prepareZXingModule({ overrides: { locateFile: () => wasmURL } });
  return new BarcodeDetector(qr);
}
