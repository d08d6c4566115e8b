import { expect, test } from "@playwright/test";
import { addressDoubt, mismatch, settledAddress } from "../src/views/labelbase";
import type { Change, Overview } from "../src/views/model";

const own = "https://pit.local:8443";

test("the same address, however it is written, is no mismatch", () => {
  for (const typed of [own, " HTTPS://Pit.Local:8443/ ", "https://pit.local:8443/p"]) expect(mismatch(typed, own), typed).toBeNull();
  expect(mismatch("https://workshop.example:443", "https://workshop.example")).toBeNull(); // RFC 9110, 4.2.2: the default port
});

test("the same host without the port, or by another scheme, surely does not lead here", () => {
  expect(mismatch("https://pit.local", own)).toMatchObject({
    wrong: true,
    text: "this server answers at https://pit.local:8443, not at https://pit.local",
    hint: "with the port :8443 the labels open it",
  });
  expect(mismatch("http://pit.local:8443", own)).toMatchObject({ wrong: true, hint: "with the beginning https:// the labels open it" });
  expect(mismatch("https://workshop.example:8443", "https://workshop.example")).toMatchObject({ wrong: true, hint: "with no port the labels open it" });
});

test("another host may be meant", () => {
  expect(mismatch("https://workshop.example", own)).toMatchObject({ wrong: false });
});

test("what is no address is left to the core's complaint", () => {
  for (const typed of ["", "pit", "🔋", "ftp://pit.local", "pit.local:8443"]) expect(mismatch(typed, own), typed).toBeNull();
  expect(mismatch(own, "")).toBeNull();
});

test("addresses of one machine and numbers are doubted", () => {
  for (const base of ["http://localhost:8080", "http://127.0.0.1:8080", "http://[::1]:8080"]) expect(addressDoubt(base), base).toContain("this computer only");
  for (const base of ["https://192.168.1.5:8443", "https://[fd00::1]"]) expect(addressDoubt(base), base).toContain("number");
  expect(addressDoubt(own)).toBeNull();
});

test("an address that the server refused is not the team's", () => {
  const change = (entry: string, value: string, part: Partial<Change> = {}) => ({ entry, value, field: "base_url", voided: false, overtaken: false, ...part }) as Change;
  const fleet = (base_url: string, ...team_history: Change[]) => ({ team: { base_url }, team_history }) as unknown as Overview;
  const refused = new Set(["2"]);
  expect(settledAddress(fleet("https://a", change("1", "https://a")), refused)).toBe("https://a");
  expect(settledAddress(fleet("https://b", change("2", "https://b"), change("1", "https://a/", { overtaken: true })), refused)).toBe("https://a");
  expect(settledAddress(fleet("https://b", change("2", "https://b"), change("1", "https://a", { voided: true })), refused)).toBe("");
  expect(settledAddress(fleet("https://c", change("3", "https://c"), change("2", "https://b", { overtaken: true })), refused)).toBe("https://c");
});
