import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { expect, test } from "@playwright/test";
import { prepareZXingModule, readBarcodes } from "zxing-wasm/reader";
import { labelText } from "../src/ui/labeltext";
import { modulesOf } from "../src/ui/qrcode";

const pixels = 4; // of a module's side

/** The modules as a picture, black on white. */
function picture(rows: boolean[][]): ImageData {
  const side = rows.length * pixels;
  const data = new Uint8ClampedArray(side * side * 4).fill(255);
  for (let y = 0; y < side; y++) {
    for (let x = 0; x < side; x++) {
      if (rows[Math.floor(y / pixels)]?.[Math.floor(x / pixels)]) data.fill(0, (y * side + x) * 4, (y * side + x) * 4 + 3);
    }
  }
  return { data, width: side, height: side, colorSpace: "srgb" } as ImageData;
}

test("a label's text is in capitals, whatever the address looks like", () => {
  expect(labelText("https://pit.local", "7K3QX9")).toBe("HTTPS://PIT.LOCAL/P/7K3QX9");
  expect(labelText(" http://Pit.local:8080// ", "7K3QX9")).toBe("HTTP://PIT.LOCAL:8080/P/7K3QX9");
});

test("another library reads the code on the screen back", async () => {
  const wasm = createRequire(import.meta.url).resolve("zxing-wasm/reader/zxing_reader.wasm");
  prepareZXingModule({ overrides: { wasmBinary: new Uint8Array(readFileSync(wasm)).buffer } });
  for (const base of ["https://pit.local", "http://127.0.0.1:8080", "https://a-rather-long-name.of-a-school.example:8443"]) {
    const rows = modulesOf(labelText(base, "7K3QX9"));
    const [found] = await readBarcodes(picture(rows), { formats: ["QRCode"] });
    expect(found).toMatchObject({ text: labelText(base, "7K3QX9"), ecLevel: "Q", contentType: "Text" });
    expect(rows.slice(0, 4).concat(rows.slice(-4)).flat()).not.toContain(true); // the quiet zone
  }
  expect(modulesOf(labelText("https://pit.local", "7K3QX9"))).toHaveLength(25 + 8); // version 2: alphanumeric, not bytes
});
