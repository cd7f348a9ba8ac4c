// A watcher under Node's own test runner, in two ways: by the rules of coldbed's catalogue, and with steps of one's own.
//
// Needs the `coldbed` command, in the path or named by COLDBED. Run with `node --test`.

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { once } from "node:events";
import { createInterface } from "node:readline";
import { after, before, describe, test } from "node:test";
import { fileURLToPath } from "node:url";

import { poll } from "./watcher.mjs";

const COLDBED = process.env.COLDBED ?? "coldbed";
const KEY = "a-key-for-tests";
const RULES = ["phase-paused", "target-temperature", "null-target-survived"];

async function run(program, words) {
  const child = spawn(program, words);
  let said = "";
  for (const stream of [child.stdout, child.stderr]) stream.on("data", (bytes) => (said += bytes));
  const [code] = await once(child, "close");
  return { code, said };
}

test("the watcher keeps the rules", async () => {
  const only = RULES.flatMap((rule) => ["--only", rule]);
  const watcher = [process.execPath, fileURLToPath(new URL("watcher.mjs", import.meta.url)), "{url}", "{key}", "0.2"];
  const { code, said } = await run(COLDBED, ["check", ...only, "--", ...watcher]);
  // 0: all musts hold; 1: one is violated; anything else is no verdict on the watcher.
  assert.equal(code, 0, said);
  // What a watcher does not report is skipped, so a 0 alone says little.
  const passed = [...said.matchAll(/^passed +(\S+)/gm)].map(([, id]) => id);
  assert.deepEqual(passed.sort(), [...RULES].sort(), said);
});

// A mock host in a process of its own, with its control API.
async function serve(scenario, start) {
  const words = ["serve", scenario, "--from", start, "--rate", "0", "--key", KEY];
  const child = spawn(COLDBED, [...words, "--listen", "127.0.0.1:0", "--control=127.0.0.1:0"], {
    stdio: ["ignore", "pipe", "inherit"],
  });
  const lines = createInterface({ input: child.stdout })[Symbol.asyncIterator]();
  const url = (await lines.next()).value.replace("listening on ", "");
  const control = (await lines.next()).value.replace("control on ", "");
  return {
    url,
    change: async (resource, what) => {
      const headers = { "content-type": "application/json" };
      const answer = await fetch(control + resource, { method: "POST", headers, body: JSON.stringify(what) });
      assert.equal(answer.status, 201, await answer.clone().text());
      return answer.json();
    },
    clear: async (resource) => fetch(control + resource, { method: "DELETE" }),
    stop: async () => {
      child.kill();
      await once(child, "close");
    },
  };
}

describe("step by step", () => {
  let host;
  before(async () => (host = await serve("heat-up", "5m")));
  after(() => host.stop());

  test("a target that is null is unknown, and all else is still seen", async () => {
    await host.change("/drifts", { pointer: "/heaters/extruder/target-celsius", change: "replace-by-null" });
    const seen = await poll(host.url, KEY);
    assert.equal(seen.heaters.extruder["target-celsius"], null);
    assert.equal(seen.heaters.extruder.on, null);
    assert.ok(seen.heaters.platform["target-celsius"] > 0);
    assert.equal(seen.phase, "printing");
    await host.clear("/drifts");
  });

  for (const fault of ["refuse", "login-page", { status: { code: 503 } }, { close: { at: { "body-byte": 20 } } }]) {
    test(`nothing is known without an answer: ${JSON.stringify(fault)}`, async () => {
      await host.change("/faults", { fault });
      assert.deepEqual(await poll(host.url, KEY), { phase: "unknown" });
      await host.clear("/faults");
      assert.equal((await poll(host.url, KEY)).phase, "printing");
    });
  }
});
