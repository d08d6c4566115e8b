import { expect, test } from "@playwright/test";
import { checkPaper, warningsOf } from "../src/data/paper";

/** answer makes every request meet this response. */
function answer(body: string, init: ResponseInit): void {
  globalThis.fetch = async () => new Response(body, init);
}

test("the server's warnings are separated, whatever is in them", () => {
  expect(warningsOf(null)).toEqual([]);
  // as a browser joins two headers of the server, which escapes with Go's url.PathEscape
  expect(warningsOf("the name %E2%80%9CR%C3%B6d 1%22%2C is cut, 100%25%20sure%3B yes")).toEqual(["the name “Röd 1\", is cut", "100% sure; yes"]);
});

test("only a PDF is one", async () => {
  answer("%PDF-1.4", { headers: { "Content-Type": "application/pdf", "Packwright-Warning": "cut%20short" } });
  expect(await checkPaper("/api/v1/labels.pdf")).toEqual(["cut short"]);
  answer("<html>sign in</html>", { headers: { "Content-Type": "text/html" } });
  await expect(checkPaper("/api/v1/labels.pdf")).rejects.toMatchObject({ kind: "unreachable" });
  answer(JSON.stringify({ problem: { kind: "not_found", text: "there is no such pack", hint: "sync first" } }), { status: 404 });
  await expect(checkPaper("/api/v1/labels.pdf")).rejects.toMatchObject({ text: "there is no such pack", hint: "sync first" });
  globalThis.fetch = async () => Promise.reject(new TypeError("failed to fetch"));
  await expect(checkPaper("/api/v1/labels.pdf")).rejects.toMatchObject({ kind: "unreachable" });
});
