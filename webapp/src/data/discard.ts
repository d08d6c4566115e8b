// Giving up an entry that the server refused: the only way out of the journal,
// and only out of this device's.

import { core } from "../core/bridge";
import { refreshOverview } from "./fleet";
import { refreshOutbox } from "./outbox";
import { type Store, store } from "./store";
import { tellTabs } from "./tabs";

/** discard deletes a refused entry here, and takes back what it changed; it says whether there was one. */
export async function discard(id: string): Promise<boolean> {
  const gone = await deleteRefused(store, id);
  tellTabs({ discarded: true, outbox: true });
  await core.renew(); // a core that never had it
  await Promise.all([refreshOverview(), refreshOutbox()]);
  return gone;
}

/** deleteRefused deletes an entry that the server refused, and says whether there was one; what waits or was sent stays. */
export function deleteRefused({ db }: Pick<Store, "db">, id: string): Promise<boolean> {
  return db.writeStrictly(["entries", "outbox"], async (tx) => {
    const outbox = tx.objectStore("outbox");
    if ((await outbox.get(id))?.state !== "refused") return false;
    await Promise.all([outbox.delete(id), tx.objectStore("entries").delete(id)]);
    return true;
  });
}
