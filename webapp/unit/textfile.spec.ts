import { expect, test } from "@playwright/test";
import { beginningOf, encodingOf, piecesOf } from "../src/data/textfile";

const bytes = (...list: number[]) => new Uint8Array(list);

test("the encoding is told from the first bytes", () => {
  expect(encodingOf(bytes(0xff, 0xfe, 0x31, 0))).toBe("utf-16le");
  expect(encodingOf(bytes(0xfe, 0xff, 0, 0x31))).toBe("utf-16be");
  expect(encodingOf(new TextEncoder().encode("Ω;1,5"))).toBe("utf-8");
  expect(encodingOf(new TextEncoder().encode("12 Ω").slice(0, -1)), "a character that is cut off").toBe("utf-8");
  expect(encodingOf(bytes(0x54, 0xfc, 0x72))).toBe("windows-1252"); // "Tür", as a western spreadsheet writes it
  expect(encodingOf(bytes())).toBe("utf-8");
});

test("a text in one byte a character reads as it was written", async () => {
  const file = new Blob([bytes(0x54, 0xfc, 0x72, 0x3b, 0x31)]);
  expect(await beginningOf(file, 100)).toEqual({ text: "Tür;1", whole: true });
});

test("pieces join to the whole, wherever characters are cut", async () => {
  const text = "12,80 V; 0,1 Ω; 21 °C\n".repeat(40);
  const file = new Blob([text]);
  for (const size of [1, 7, 64, 10_000]) {
    let joined = "";
    let read = 0;
    for await (const piece of piecesOf(file, "utf-8", size)) {
      joined += piece.text;
      read = piece.bytes;
    }
    expect(joined, `pieces of ${size}`).toBe(text);
    expect(read).toBe(file.size);
  }
});

test("noughts in a log are marked; what begins with them is no text", async () => {
  const log = new Blob(["0;12.8\n".repeat(200), "\0\0\0", "\n9;12.7\n", "\0\0\0\0"]);
  const { text } = await beginningOf(log, 100_000);
  expect(text).not.toContain("\0");
  expect(text.endsWith("9;12.7\n")).toBe(true);
  const picture = new Blob([bytes(0x89, 0x50, 0x4e, 0x47, 0, 0, 0, 13, 1)]);
  await expect(beginningOf(picture, 100)).rejects.toMatchObject({ name: "Problem", text: "the file is not text" });
});
