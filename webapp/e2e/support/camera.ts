// A printed label in front of a camera: the label's PDF as pixels, as a video.

import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { type Browser, type BrowserType, test } from "@playwright/test";

/** A grey picture, one byte a pixel. */
export interface Picture {
  width: number;
  height: number;
  grey: Buffer;
}

/** rasterise prints the first page of a PDF at a resolution in dots per inch. */
export function rasterise(pdf: Buffer, dpi: number): Picture {
  const folder = mkdtempSync(join(tmpdir(), "packwright-label-"));
  try {
    writeFileSync(join(folder, "label.pdf"), pdf);
    execFileSync("pdftoppm", ["-gray", "-singlefile", "-r", String(dpi), join(folder, "label.pdf"), join(folder, "label")]);
    return readPGM(readFileSync(join(folder, "label.pgm")));
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** readPGM reads a binary portable greymap (P5) with 8 bits a pixel. */
function readPGM(file: Buffer): Picture {
  const header = /^P5\s+(\d+)\s+(\d+)\s+255\s/.exec(file.subarray(0, 64).toString("latin1"));
  if (!header) throw new Error("pdftoppm gave no 8 bit greymap");
  const width = Number(header[1]);
  const height = Number(header[2]);
  return { width, height, grey: file.subarray(header[0].length, header[0].length + width * height) };
}

/** asVideo lays a picture on a grey bench and gives it as an uncompressed video (YUV4MPEG2) of one frame, which the browser repeats. */
export function asVideo(picture: Picture): Buffer {
  const width = 1280;
  const height = 720;
  if (picture.width > width || picture.height > height) throw new Error(`the picture is larger than ${width} × ${height}`);
  const luma = Buffer.alloc(width * height, 90);
  const left = Math.floor((width - picture.width) / 2);
  const top = Math.floor((height - picture.height) / 2);
  for (let y = 0; y < picture.height; y++) {
    for (let x = 0; x < picture.width; x++) {
      // 0–255 becomes video range 16–235
      luma[(top + y) * width + left + x] = 16 + ((picture.grey[y * picture.width + x] ?? 0) * 219) / 255;
    }
  }
  const chroma = Buffer.alloc((width * height) / 2, 128);
  return Buffer.concat([Buffer.from(`YUV4MPEG2 W${width} H${height} F30:1 Ip A1:1 C420jpeg\nFRAME\n`), luma, chroma]);
}

/** withCamera starts another browser, with a camera that sees the video, or a test picture. */
export async function withCamera(chromium: BrowserType, video?: Buffer): Promise<{ browser: Browser; close(): Promise<void> }> {
  const folder = mkdtempSync(join(tmpdir(), "packwright-camera-"));
  const args = ["--use-fake-device-for-media-stream"];
  if (video) {
    writeFileSync(join(folder, "video.y4m"), video);
    args.push(`--use-file-for-fake-video-capture=${join(folder, "video.y4m")}`);
  }
  const { launchOptions } = test.info().project.use;
  const browser = await chromium.launch({ ...launchOptions, args: [...(launchOptions?.args ?? []), ...args] });
  return {
    browser,
    close: async () => {
      await browser.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
