// The next version of the program, made honestly: the sources, copied and
// changed in one place, built by the app's own build program.

import { execFile } from "node:child_process";
import { cpSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { promisify } from "node:util";

const run = promisify(execFile);
const root = resolve("..");
const wanted = ["go.mod", "go.sum", "internal", "labels", "server", "webapp"];

export interface NextVersion {
  program: string;
  remove(): void;
}

/** buildNextVersion replaces a text in one source file and builds everything. */
export async function buildNextVersion(file: string, before: string, after: string): Promise<NextVersion> {
  const folder = mkdtempSync(join(tmpdir(), "packwright-next-"));
  const program = join(folder, "packwright");
  const remove = () => rmSync(folder, { recursive: true, force: true });
  try {
    for (const name of wanted) {
      cpSync(join(root, name), join(folder, name), { recursive: true, filter: (path) => !/node_modules|test-results|\/dist\//.test(path) });
    }
    symlinkSync(join(root, "webapp", "node_modules"), join(folder, "webapp", "node_modules"));
    const source = readFileSync(join(folder, file), "utf8");
    if (source.split(before).length !== 2) throw new Error(`${file} does not hold ${JSON.stringify(before)} once`);
    writeFileSync(join(folder, file), source.replace(before, after));
    writeFileSync(join(folder, "webapp/dist/.gitkeep"), "");
    const options = { cwd: folder, env: { ...process.env, CGO_ENABLED: "0" } };
    await run("go", ["run", "./webapp/build", "-dev"], options);
    await run("go", ["build", "-trimpath", "-o", program, "./server"], options);
    return { program, remove };
  } catch (thrown) {
    remove();
    throw thrown;
  }
}
