import { mock } from "node:test";
import { expect, test } from "@playwright/test";
import { Bridge, type Call } from "../src/core/bridge";
import type { ToWorker } from "../src/core/protocol";
import { CoreWorker, entry } from "./fake";

/** A core that keeps entries, crashes on a note "boom" and refuses empty codes. */
function answer(name: string, request: { entries?: never[]; text?: string }, worker: CoreWorker): unknown {
  switch (name) {
    case "add-entries":
      worker.entries.push(...(request.entries ?? []));
      return { total: worker.entries.length };
    case "read-code":
      if (request.text === "boom") throw new Error("unreachable executed");
      if (request.text === "") throw { kind: "invalid", text: "no code", hint: "type it", field: "text" };
      return { code: request.text, known: worker.entries.length > 0 };
  }
  throw new Error(`no such call: ${name}`);
}

function bridge(spawn: () => CoreWorker = () => new CoreWorker()): Bridge {
  CoreWorker.all = [];
  CoreWorker.answer = answer as never;
  return new Bridge(spawn, Date.now, async () => {});
}

const feed = async (call: Call) => void (await call("add-entries", { entries: [entry(1)] }));

test("calls made before the journal is in the core wait for it", async () => {
  const core = bridge();
  const early = core.call("read-code", { text: "A" });
  await core.start(feed);
  expect(await early).toEqual({ code: "A", known: true });
});

test("a problem crosses the bridge whole", async () => {
  const core = bridge();
  await core.start(feed);
  const refused = core.call("read-code", { text: "" });
  await expect(refused).rejects.toMatchObject({ name: "Problem", kind: "invalid", text: "no code", hint: "type it", field: "text" });
  expect(CoreWorker.all).toHaveLength(1);
});

test("a crash rejects what was under way and starts another core with the journal", async () => {
  const core = bridge();
  await core.start(feed);
  const interrupted = [core.call("read-code", { text: "boom" }), core.call("read-code", { text: "B" })];
  for (const call of interrupted) await expect(call).rejects.toMatchObject({ name: "Problem", hint: "try once more" });
  expect(await core.call("read-code", { text: "C" })).toEqual({ code: "C", known: true });
  expect(CoreWorker.all.map((worker) => worker.ended)).toEqual([true, false]);
});

test("what a dead core still says is not heard", async () => {
  const core = bridge();
  await core.start(feed);
  await expect(core.call("read-code", { text: "boom" })).rejects.toBeInstanceOf(Error);
  const [dead] = CoreWorker.all;
  dead!.ended = false;
  dead!.send({ crash: "again" });
  expect(await core.call("read-code", { text: "D" })).toEqual({ code: "D", known: true });
  expect(CoreWorker.all).toHaveLength(2);
});

test("a worker that cannot be loaded is tried a few times, then given up with words", async () => {
  const core = bridge(() => {
    const worker = new CoreWorker();
    queueMicrotask(() => worker.onerror?.({ message: "404" } as ErrorEvent));
    return Object.assign(worker, { send: () => {} });
  });
  await expect(core.start(feed)).rejects.toMatchObject({ name: "Problem", text: "the calculation does not start (404)" });
  expect(CoreWorker.all).toHaveLength(4);
  await expect(core.call("read-code", { text: "A" })).rejects.toMatchObject({ name: "Problem" });
});

test("a core that cannot be loaded is tried again, with an empty journal too", async () => {
  const core = bridge();
  CoreWorker.loads = false;
  const pauses: number[] = [];
  const patient = new Bridge(() => new CoreWorker(), Date.now, async (ms) => {
    pauses.push(ms);
    CoreWorker.loads = pauses.length === 2;
  });
  await patient.start(async () => {});
  expect(pauses).toEqual([300, 600]);
  expect(await patient.call("read-code", { text: "A" })).toEqual({ code: "A", known: false });
  CoreWorker.loads = false;
  await expect(core.start(async () => {})).rejects.toMatchObject({ text: "the calculation does not start (failed to fetch)" });
  CoreWorker.loads = true;
});

test("a journal that cannot be read is reported, not fed as empty", async () => {
  const core = bridge();
  await expect(core.start(() => Promise.reject(new Error("no storage")))).rejects.toThrow("no storage");
  await expect(core.call("read-code", { text: "A" })).rejects.toThrow("no storage");
  expect(CoreWorker.all).toHaveLength(1);
});

test("a core that was stopped answers no more and is not started again", async () => {
  const core = bridge();
  await core.start(feed);
  const late = core.call("read-code", { text: "E" });
  core.stop();
  await expect(late).rejects.toBeInstanceOf(Error);
  await expect(core.call("read-code", { text: "F" })).rejects.toMatchObject({ text: "the calculation was ended" });
  expect(CoreWorker.all.map((worker) => worker.ended)).toEqual([true]);
});

/** A started core on a journal that a test may change, whose first worker answers nothing until told to. */
async function held() {
  const journal = [entry(1), entry(2)];
  const core = bridge();
  await core.start(async (call) => void (await call("add-entries", { entries: journal })));
  const first = CoreWorker.all[0]!;
  const asked: ToWorker[] = [];
  first.postMessage = (message) => void asked.push(message);
  const answerAll = () => asked.splice(0).forEach((message) => CoreWorker.prototype.postMessage.call(first, message));
  return { core, journal, first, asked, answerAll };
}

test("a core taken up anew answers what it was asked, and the next one has the journal of now", async () => {
  const { core, journal, first, asked, answerAll } = await held();
  const underWay = core.call("read-code", { text: "A" });
  await expect.poll(() => asked.length).toBe(1);
  journal.pop();
  const renewed = core.renew();
  const later = core.call("read-code", { text: "B" });
  await new Promise((resolve) => setTimeout(resolve, 20));
  expect(asked).toHaveLength(1); // the later call is not for the old core
  expect(first.ended).toBe(false);
  answerAll();
  expect(await underWay).toEqual({ code: "A", known: true });
  await renewed;
  expect(await later).toEqual({ code: "B", known: true });
  expect(CoreWorker.all.map((worker) => [worker.ended, worker.entries.length])).toEqual([
    [true, 2],
    [false, 1],
  ]);
});

test("a call made just before the core is taken up anew is answered", async () => {
  const core = bridge();
  await core.start(feed);
  const early = core.call("read-code", { text: "A" });
  await core.renew();
  expect(await early).toEqual({ code: "A", known: true });
});

test("taking the core up anew is no crash, however often: a failure afterwards is the first", async () => {
  bridge(); // resets the fake workers
  const pauses: number[] = [];
  const core = new Bridge(() => new CoreWorker(), Date.now, async (ms) => {
    pauses.push(ms);
    CoreWorker.loads = true;
  });
  await core.start(feed);
  for (let i = 0; i < 8; i++) await core.renew();
  CoreWorker.loads = false;
  await core.renew();
  expect(pauses).toEqual([300]);
  expect(await core.call("read-code", { text: "A" })).toEqual({ code: "A", known: true });
  expect(CoreWorker.all.filter((worker) => !worker.ended)).toHaveLength(1);
});

test("what leaves the journal while a core reads it is not in the core that answers", async () => {
  const journal = [entry(1), entry(2), entry(3)];
  const core = bridge();
  const renewals: Promise<void>[] = [];
  await core.start(async (call) => {
    await call("add-entries", { entries: [...journal] });
    if (journal.length === 1) return;
    journal.pop();
    renewals.push(core.renew(), core.renew()); // two tabs at once: one more core does for both
  });
  await Promise.all(renewals);
  expect(CoreWorker.all.map((worker) => [worker.ended, worker.entries.length])).toEqual([
    [true, 3],
    [true, 2],
    [false, 1],
  ]);
});

const turnMS = 5_000; // of the bridge's watch, which gives a silent worker twelve

test("a core that never answers holds nothing up for ever: its calls end with words, and another is taken up", async () => {
  mock.timers.enable({ apis: ["setInterval"] });
  try {
    const { core, journal, first, asked } = await held();
    const underWay = core.call("read-code", { text: "A" });
    await expect.poll(() => asked.length).toBe(1);
    journal.pop();
    const renewed = core.renew();
    const later = core.call("read-code", { text: "B" });
    mock.timers.tick(11 * turnMS);
    expect(first.ended, "it may still answer").toBe(false);
    mock.timers.tick(turnMS);
    await expect(underWay).rejects.toMatchObject({
      name: "Problem",
      text: "the calculation stopped (no answer for a minute) and is started again",
      hint: "try once more",
    });
    await renewed;
    expect(await later).toEqual({ code: "B", known: true });
    expect(CoreWorker.all.map((worker) => [worker.ended, worker.entries.length])).toEqual([
      [true, 2],
      [false, 1],
    ]);
  } finally {
    mock.timers.reset();
  }
});

test("every answer gives a core that is taken up anew its minute again", async () => {
  mock.timers.enable({ apis: ["setInterval"] });
  try {
    const { core, first, asked } = await held();
    const calls = [core.call("read-code", { text: "A" }), core.call("read-code", { text: "B" })];
    await expect.poll(() => asked.length).toBe(2);
    const renewed = core.renew();
    for (const call of calls) {
      mock.timers.tick(11 * turnMS);
      CoreWorker.prototype.postMessage.call(first, asked.shift()!);
      await call;
    }
    await renewed;
    expect(CoreWorker.all).toHaveLength(2);
  } finally {
    mock.timers.reset();
  }
});

test("cores that never take the journal are given up with words", async () => {
  mock.timers.enable({ apis: ["setInterval"] });
  try {
    bridge(); // resets the fake workers
    const asked: ToWorker[] = [];
    let nowMS = 0;
    const core = new Bridge(
      () => Object.assign(new CoreWorker(), { postMessage: (message: ToWorker) => void asked.push(message) }),
      () => nowMS,
      async () => {},
    );
    const started = core.start(feed).catch((problem: unknown) => problem);
    for (let tried = 1; tried <= 4; tried++) {
      await expect.poll(() => asked.length).toBe(tried);
      nowMS += 12 * turnMS; // so that of crashes in one minute there is always one
      mock.timers.tick(12 * turnMS);
    }
    expect(await started).toMatchObject({
      name: "Problem",
      text: "the calculation does not start (no answer for a minute)",
      hint: "export the journal, then reload the app",
    });
    expect(CoreWorker.all.map((worker) => worker.ended)).toEqual([true, true, true, true]);
  } finally {
    mock.timers.reset();
  }
});

test("a core that crashes on its last calls is taken up anew all the same", async () => {
  const { core, journal, asked, answerAll } = await held();
  const underWay = core.call("read-code", { text: "boom" });
  await expect.poll(() => asked.length).toBe(1);
  journal.pop();
  const renewed = core.renew();
  answerAll();
  await expect(underWay).rejects.toMatchObject({ hint: "try once more" });
  await renewed;
  expect(CoreWorker.all.map((worker) => worker.entries.length)).toEqual([2, 1]);
});
