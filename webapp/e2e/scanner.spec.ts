// The scanner with each kind of decoder: the browser's own, and the bundled one
// where the browser has none, has one without QR codes, or has one that fails.
// And the camera's lamp, where it can be switched. The camera is a canvas.

import { encode } from "uqr";
import { addPack, open } from "./support/app";
import { expect, type Page, test } from "./support/test";

/** How the browser's own detector is: absent, or how it fails. "works" reads what window.inSight says and not the picture. */
type Native = "absent" | "works" | "knows no QR codes" | "cannot tell its formats" | "fails at the first look";

interface Camera {
  native: Native;
  lamp?: "switchable" | "refuses";
}

/** stub puts a detector and a camera into the browser; the camera sees a QR code of the text, or nothing. */
async function stub(page: Page, text: string, { native, lamp }: Camera): Promise<void> {
  const modules = text ? encode(text, { ecc: "Q", border: 4 }).data : [];
  await page.addInitScript(
    ({ modules, native, lamp }) => {
      const record = { looks: 0, lamp: [] as boolean[], inSight: "" };
      Object.assign(globalThis, { record });
      class Detector {
        static async getSupportedFormats() {
          if (native === "cannot tell its formats") throw new DOMException("no service", "NotSupportedError");
          return native === "knows no QR codes" ? ["ean_13", "code_128"] : ["code_128", "qr_code"];
        }
        async detect(source: unknown) {
          record.looks++;
          if (native === "fails at the first look") throw new DOMException("Barcode detection service unavailable.", "NotSupportedError");
          if (!(source instanceof HTMLVideoElement)) throw new TypeError("no picture");
          return record.inSight ? [{ rawValue: record.inSight }] : [];
        }
      }
      if (native === "absent") Reflect.deleteProperty(globalThis, "BarcodeDetector");
      else Object.assign(globalThis, { BarcodeDetector: Detector });

      navigator.mediaDevices.getUserMedia = async () => {
        const canvas = document.createElement("canvas");
        canvas.width = 640;
        canvas.height = 480;
        const pen = canvas.getContext("2d")!;
        const draw = () => {
          pen.fillStyle = "white";
          pen.fillRect(0, 0, 640, 480);
          pen.fillStyle = "black";
          modules.forEach((row, y) => row.forEach((dark, x) => dark && pen.fillRect(150 + 8 * x, 60 + 8 * y, 8, 8)));
        };
        draw();
        setInterval(draw, 100); // a still canvas sends no pictures
        const stream = canvas.captureStream(10);
        const track = stream.getVideoTracks()[0]!;
        track.getCapabilities = () => (lamp ? { torch: true } : {}) as MediaTrackCapabilities;
        track.applyConstraints = async (constraints) => {
          if (lamp === "refuses") throw new DOMException("in use", "OverconstrainedError");
          record.lamp.push((constraints?.advanced?.[0] as { torch: boolean }).torch);
        };
        return stream;
      };
    },
    { modules, native, lamp },
  );
}

/** record is what detector and lamp were asked for. */
function record(page: Page): Promise<{ looks: number; lamp: boolean[] }> {
  return page.evaluate(() => (globalThis as unknown as { record: { looks: number; lamp: boolean[] } }).record);
}

/** bundledLoaded tells whether the page took the decoder that comes with the app. */
function bundledLoaded(page: Page): Promise<boolean> {
  return page.evaluate(() => performance.getEntriesByType("resource").some(({ name }) => /bundleddecoder|zxing_reader/.test(name)));
}

async function startCamera(page: Page): Promise<void> {
  await page.goto("/scan");
  await page.getByRole("button", { name: "Start camera" }).click();
  await expect(page.getByText("Hold the label's square inside the corners.")).toBeVisible();
}

const lampButton = (page: Page) => page.getByRole("button", { name: "Lamp" });

test("the browser's own detector is used where it reads QR codes, and no other is loaded", async ({ page }) => {
  await open(page);
  const code = await addPack(page, { name: "Jade 1" });
  await stub(page, "", { native: "works" });
  await startCamera(page);
  await expect.poll(async () => (await record(page)).looks, "it looks until something is in sight").toBeGreaterThan(3);
  const see = (text: string) => page.evaluate((text) => Object.assign((globalThis as unknown as { record: object }).record, { inSight: text }), text);
  await see("https://pit.local/menu");
  await expect(page.getByText(/^That is not a pack label/)).toBeVisible();
  expect(await bundledLoaded(page)).toBe(false);
  await expect(lampButton(page)).toBeHidden(); // this camera has none
  await see(`HTTPS://PIT.LOCAL/P/${code}`);
  await expect(page).toHaveURL(`/p/${code}`);
});

const replaced: [native: Native, looks: number][] = [
  ["absent", 0],
  ["knows no QR codes", 0],
  ["cannot tell its formats", 0],
  ["fails at the first look", 1],
];
for (const [native, looks] of replaced) {
  test(`the bundled decoder reads the label where the browser's own is or does this: ${native}`, async ({ page, server }) => {
    await open(page);
    const code = await addPack(page, { name: "Jade 2" });
    await stub(page, `HTTPS://PIT.LOCAL/P/${code}`, { native });
    await server.stop(); // it comes with the app
    await page.goto("/scan");
    await page.getByRole("button", { name: "Start camera" }).click();
    await expect(page).toHaveURL(`/p/${code}`);
    await expect(page.getByRole("heading", { level: 1 })).toHaveText(`Jade 2 ${code}`);
    expect((await record(page)).looks).toBe(looks);
    expect(await bundledLoaded(page)).toBe(true);
  });
}

test("the lamp is offered where the camera has one, and switched on and off", async ({ page }) => {
  await stub(page, "", { native: "works", lamp: "switchable" });
  await open(page);
  await startCamera(page);
  await expect(lampButton(page)).toHaveAttribute("aria-pressed", "false");
  await lampButton(page).click();
  await expect(lampButton(page)).toHaveAttribute("aria-pressed", "true");
  await lampButton(page).click();
  await expect(lampButton(page)).toHaveAttribute("aria-pressed", "false");
  expect((await record(page)).lamp).toEqual([true, false]);
});

test("a lamp that does not obey is not called lit, and the scanner goes on", async ({ page }) => {
  await stub(page, "", { native: "works", lamp: "refuses" });
  await open(page);
  await startCamera(page);
  await lampButton(page).click();
  await expect(page.getByText("The lamp of this camera cannot be switched.")).toBeVisible();
  await expect(lampButton(page)).toBeHidden();
  const before = (await record(page)).looks;
  await expect.poll(async () => (await record(page)).looks).toBeGreaterThan(before);
});
