// Old tests from a table: each row becomes an entry of its own that carries the
// import's id, so that voiding the import takes all of them out of account.

import type { Entry, SheetRow } from "../core/types";
import { make, record, save } from "./journal";
import { store } from "./store";

const BATCH = 200; // entries of one transaction and of one refresh of the fleet

/**
 * importTests saves the import and then its rows, batch by batch. It rejects
 * with a Problem; what was saved until then stays, as when the app is closed in
 * the middle, and can be undone as a whole.
 */
export async function importTests(file: string, rows: SheetRow[], onSaved: (rows: number) => void): Promise<Entry> {
  const entry = await record("import", "", { file, rows: rows.length });
  const device = await store.device();
  for (let at = 0; at < rows.length; at += BATCH) {
    const batch = rows.slice(at, at + BATCH);
    const made = await Promise.all(batch.map((row) => make(row.kind, row.pack, { ...(row.body as object), import: entry.id }, row.by, device)));
    await save(made);
    onSaved(at + batch.length);
  }
  return entry;
}
