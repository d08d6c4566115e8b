import "fake-indexeddb/auto";
import { expect, test } from "@playwright/test";
import { loadMembership } from "../src/data/access";
import { API } from "../src/data/api";
import { hasJoined, mayLead } from "../src/data/rights";
import { access, membership, reachable, role, signedOut, syncProblem, tier } from "../src/data/status";
import { Store } from "../src/data/store";
import { Syncer } from "../src/data/sync";
import { tierOf } from "../src/data/tier";
import { entry, freshName, problemBody, Server } from "./fake";

/** A phone that talks to the server over the network. */
function phone(server: Server, allowed = () => true) {
  const waits: number[] = [];
  const store = new Store(freshName());
  const api = new API(server.fetch);
  const syncer = new Syncer({
    store,
    api,
    tell: { added: async () => {}, outboxChanged: async () => {} },
    allowed,
    locks: undefined,
    now: () => 0,
    random: () => 0,
    after(ms) {
      waits.push(ms);
      return () => {};
    },
  });
  return { store, api, syncer, waits };
}

const revoked = {
  status: 401,
  body: JSON.stringify({ problem: { kind: "not_joined", text: "this device was taken off the list", hint: "ask a lead" } }),
};

test.beforeEach(() => {
  tier.value = "trusted";
  access.value = "unknown";
  role.value = "";
  membership.value = null;
  signedOut.value = null;
  syncProblem.value = null;
  reachable.value = null;
});

test.afterAll(() => {
  tier.value = "here";
});

test("a stranger hears that it has not joined, keeps everything and is not sent on", async () => {
  const server = new Server();
  server.standing = { joined: false, role: "" };
  const { store, syncer, waits } = phone(server);
  await store.saveOwn([entry(1)]);
  expect(await syncer.sync()).toBe(false);
  expect([access.value, role.value, signedOut.value, syncProblem.value, reachable.value]).toEqual(["stranger", "", null, null, true]);
  expect(server.requests).toEqual(["health"]);
  expect(waits).toEqual([60_000]); // asked again, but not ever later
  expect(await store.outbox()).toHaveLength(1);
});

test("who joined is remembered, with the role, also for a start without a server", async () => {
  const server = new Server();
  server.standing = { joined: true, role: "crew" };
  const { store, syncer } = phone(server);
  expect(await syncer.sync()).toBe(true);
  const who = { id: "d7", name: "pit phone 2", role: "crew" };
  expect([access.value, role.value, membership.value]).toEqual(["joined", "crew", who]);
  await syncer.sync();
  expect(server.requests.filter((route) => route === "me")).toHaveLength(1);

  access.value = "unknown";
  role.value = "";
  membership.value = null;
  await loadMembership(store);
  expect([access.value, role.value, membership.value]).toEqual(["unknown", "crew", who]);
  expect(hasJoined()).toBe(true);
});

test("a role that changes is heard with the next probe", async () => {
  const server = new Server();
  server.standing = { joined: true, role: "crew" };
  const { syncer } = phone(server);
  await syncer.sync();
  server.standing = { joined: true, role: "lead" };
  await syncer.sync();
  expect([role.value, membership.value?.role]).toEqual(["lead", "lead"]);
});

test("a revoked phone is signed out with the server's words, keeps its entries, and comes back when it joins anew", async () => {
  const server = new Server();
  server.standing = { joined: true, role: "crew" };
  const { store, syncer } = phone(server);
  await syncer.sync();
  await store.saveOwn([entry(1), entry(2)]);
  server.standing = { joined: false, role: "" };
  server.faults.me = [revoked];
  await syncer.sync();
  expect([access.value, role.value, signedOut.value]).toEqual(["signed-out", "", "this device was taken off the list: ask a lead"]);
  expect(await store.outbox()).toHaveLength(2);

  access.value = "unknown"; // another start, without the server
  signedOut.value = null;
  membership.value = null;
  await loadMembership(store);
  expect([access.value, role.value, signedOut.value]).toEqual(["signed-out", "", "this device was taken off the list: ask a lead"]);
  expect([hasJoined(), mayLead()]).toEqual([false, false]);

  await syncer.sync(); // the reason is asked for once
  expect([access.value, signedOut.value]).toEqual(["signed-out", "this device was taken off the list: ask a lead"]);
  expect(server.requests.filter((route) => route === "me")).toHaveLength(2);
  server.standing = { joined: true, role: "crew" };
  expect(await syncer.sync()).toBe(true);
  expect([access.value, signedOut.value]).toEqual(["joined", null]);
  expect(await store.membership()).toEqual({ id: "d7", name: "pit phone 2", role: "crew" }); // in again: nothing of it is left
  expect(server.log).toEqual([entry(1), entry(2)]);
});

test("a probe that was under way while this device joined does not sign it out", async () => {
  const server = new Server();
  server.standing = { joined: true, role: "crew" };
  const { syncer } = phone(server);
  membership.value = { id: "d7", name: "pit phone 2", role: "crew" };
  server.faults.health = [{ status: 200, body: JSON.stringify({ ok: true, min_client: 1, joined: false, role: "" }) }];
  expect(await syncer.sync()).toBe(true);
  expect([access.value, role.value, signedOut.value]).toEqual(["joined", "crew", null]);
});

test("revoked in the middle of a round: the same", async () => {
  const server = new Server();
  server.standing = { joined: true, role: "crew" };
  const { store, syncer } = phone(server);
  await syncer.sync();
  await store.saveOwn([entry(1)]);
  server.faults.push = [revoked];
  await syncer.sync();
  expect(access.value).toBe("signed-out");
  expect(await store.outbox()).toMatchObject([{ id: entry(1).id, state: "waiting" }]);
});

test("a 401 that is not our server's makes nobody a stranger", async () => {
  for (const body of ["<html>sign in</html>", "{}", problemBody("pay for this network")]) {
    const server = new Server();
    server.faults.health = [{ status: 401, body }];
    const { syncer } = phone(server);
    await syncer.sync();
    expect(access.value).toBe("unknown");
  }
});

test("a 403 keeps entries waiting and says the server's words", async () => {
  const server = new Server();
  const words = { kind: "not_allowed", text: "only a lead may do this", hint: "ask a lead" };
  server.faults.push = [{ status: 403, body: JSON.stringify({ problem: words }) }];
  const { store, syncer } = phone(server);
  await store.saveOwn([entry(1)]);
  await syncer.sync();
  expect(syncProblem.value).toBe("only a lead may do this: ask a lead");
  expect(await store.outbox()).toMatchObject([{ state: "waiting" }]);
});

test("a server from before there was any sign-in lets this app do everything", async () => {
  const { syncer } = phone(new Server());
  expect(await syncer.sync()).toBe(true);
  expect([access.value, role.value]).toEqual(["joined", "lead"]);
});

test("a server that cannot say who this device is still syncs", async () => {
  const server = new Server();
  server.standing = { joined: true, role: "crew" };
  server.faults.me = [{ status: 500, body: "{}" }];
  const { syncer } = phone(server);
  expect(await syncer.sync()).toBe(true);
  expect(membership.value).toBeNull();
});

test("where no talk is allowed nothing is asked, and no timer is set", async () => {
  const server = new Server();
  const { store, syncer, waits } = phone(server, () => false);
  await store.saveOwn([entry(1)]);
  expect(await syncer.sync()).toBe(false);
  syncer.nudge();
  expect([server.requests, waits]).toEqual([[], []]);
  expect(await store.outbox()).toHaveLength(1);
});

test("each request tells how much is unsent, where that is known", async () => {
  const server = new Server();
  const { api, syncer } = phone(server);
  await syncer.sync();
  api.unsent = () => 7;
  await syncer.sync();
  expect(server.unsentTold).toEqual([null, null, null, "7", "7"]); // health, me, pull; health, pull
});

test("the tier as far as the address tells it", () => {
  expect(tierOf("https:", true)).toBe("trusted");
  expect(tierOf("http:", true)).toBe("here"); // browsers call http secure within one machine only
  expect(tierOf("http:", false)).toBe("plain");
});
