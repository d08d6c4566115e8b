import { expect, test } from "@playwright/test";
import { isInvitation, readInvitation } from "../src/data/devices";

test("the code of an invitation, as people type it and cameras read it", () => {
  for (const text of ["7K3Q-X9AB", "7k3qx9ab", " 7K3Q X9AB ", "#7K3Q-X9AB", "https://pit.local:8443/join#7K3Q-X9AB", "HTTPS://PIT.LOCAL/JOIN#7K3QX9AB"]) {
    expect(readInvitation(text), text).toBe("7K3QX9AB");
  }
  expect(readInvitation("oil0-1iLO")).toBe("01101110"); // look-alikes
  for (const text of ["", "7K3Q-X9A", "7K3Q-X9ABC", "7K3Q-X9AU", "7K3Q_X9AB", "https://pit.local/join", "<script>", "7K3QX9"]) {
    expect(readInvitation(text), text).toBe("");
  }
});

test("an invitation is told from a label", () => {
  expect(isInvitation("https://pit.local:8443/join#7K3Q-X9AB")).toBe(true);
  for (const text of ["HTTPS://PIT.LOCAL/P/7K3QX9", "7K3Q-X9AB", "https://pit.local/join#7K3Q", "https://pit.local/take#7K3QX9AB"]) {
    expect(isInvitation(text), text).toBe(false);
  }
});
