// QR codes as the server prints them (see package labels).
import { encode } from "uqr";

/** The modules of a text by row, true is black, with the quiet zone of four that ISO/IEC 18004 asks for; error correction Q. */
export function modulesOf(text: string): boolean[][] {
  return encode(text, { ecc: "Q", border: 4 }).data;
}
