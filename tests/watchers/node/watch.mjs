#!/usr/bin/env node
// Watch a filament printer through its network host: one JSON line, a sighting, per poll.
//
// Usage: node watch.mjs URL KEY [INTERVAL_SECONDS]
//
// Node 20 or later, nothing to install. A watcher only reports what the host says. It is no fire alarm and no reason
// to leave a hot printer alone.

const BODY_LIMIT_BYTES = 1 << 20;

// Printed whenever there is no usable answer: what was seen before is withdrawn, because it may no longer be true.
const UNKNOWN = {
  phase: "unknown",
  heaters: {},
  "progress-percent": null,
  "elapsed-seconds": null,
  "remaining-seconds": null,
};

// RFC 8011 s5.3.7 job states; `processing` is missing here because it also depends on the printer's reasons.
// A Map, because a plain object would also answer to "constructor".
const JOB_PHASES = new Map([
  ["pending", "idle"],
  ["pending-held", "idle"],
  ["processing-stopped", "paused"],
  ["canceled", "cancelled"],
  ["aborted", "error"],
  ["completed", "finished"],
]);

// Asks the host once. Returns the answer (an object) or throws for everything that is not a usable answer.
async function fetchAnswer(url, key, timeoutMs) {
  const address = `${url.replace(/\/+$/, "")}/printer`;
  const response = await fetch(address, {
    headers: {
      Authorization: `Bearer ${key}`,
      Accept: "application/json",
      "User-Agent": "example-watcher-node/1",
      // A kept connection may be dead after the host's restart; a new one each time costs little on a local network.
      Connection: "close",
    },
    redirect: "manual", // following one could hand the key to another host
    signal: AbortSignal.timeout(timeoutMs), // for the whole exchange, the body included
  });
  if (response.status !== 200) {
    await response.body?.cancel();
    throw new Error(`status ${response.status}`);
  }
  const chunks = [];
  let length = 0;
  // fetch itself rejects a body that ends before its Content-Length or last chunk (RFC 9112 s8).
  for await (const chunk of response.body ?? []) {
    length += chunk.length;
    if (length > BODY_LIMIT_BYTES) throw new Error("body too long");
    chunks.push(chunk);
  }
  // `fatal`: bytes that are not UTF-8 make the body unusable instead of turning into replacement characters.
  const text = new TextDecoder("utf-8", { fatal: true }).decode(Buffer.concat(chunks));
  const answer = JSON.parse(text);
  if (!isObject(answer)) throw new Error("not a JSON object");
  return answer;
}

function isObject(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

// The value if it is a finite number, else null: null, missing and wrong types all mean that it is not known.
function number(value) {
  return Number.isFinite(value) ? value : null;
}

// Whether some heater is on its way to its target; null if the reasons cannot be read.
function heating(answer) {
  const reasons = answer["printer-state-reasons"];
  if (!Array.isArray(reasons) || !reasons.every((reason) => typeof reason === "string")) return null;
  return reasons.some((reason) => reason.endsWith("-heating-report"));
}

// The printer's phase in the words that a person uses.
function phaseOf(answer) {
  const job = answer.job;
  if (job === null) {
    const state = answer["printer-state"];
    if (state === "stopped") return "error";
    if (heating(answer) === null) return "unknown";
    if (heating(answer)) return "heating";
    return state === "idle" || state === "processing" ? "idle" : "unknown";
  }
  if (!isObject(job)) return "unknown"; // missing is not the same as null
  const state = job["job-state"];
  if (state === "processing") {
    if (heating(answer) === null) return "unknown";
    return heating(answer) ? "heating" : "printing";
  }
  return JOB_PHASES.get(state) ?? "unknown";
}

// One heater's part of the sighting. On or off is what the host wants, so it follows from the target alone.
function heaterOf(heater) {
  const actual = number(heater?.["actual-celsius"]);
  const target = number(heater?.["target-celsius"]);
  return { "actual-celsius": actual, "target-celsius": target, on: target === null ? null : target > 0 };
}

// What one answer says. Each value stands alone, so that one bad value does not take the others with it.
function sightingOf(answer) {
  const heaters = isObject(answer.heaters) ? Object.entries(answer.heaters) : [];
  const job = isObject(answer.job) ? answer.job : {};
  return {
    phase: phaseOf(answer),
    heaters: Object.fromEntries(heaters.map(([name, heater]) => [name, heaterOf(heater)])),
    "progress-percent": number(job["progress-percent"]),
    "elapsed-seconds": number(job["elapsed-seconds"]),
    "remaining-seconds": number(job["remaining-seconds"]),
  };
}

const [url, key, interval = "1"] = process.argv.slice(2);
const intervalMs = Number(interval) * 1000;
if (key === undefined || !(intervalMs > 0 && intervalMs <= 3_600_000)) {
  console.error("usage: watch.mjs URL KEY [INTERVAL_SECONDS]");
  process.exit(2);
}
process.on("SIGTERM", () => process.exit(0));
process.on("SIGINT", () => process.exit(0));
process.stdout.on("error", () => process.exit(0)); // nobody reads any more

const startedMs = performance.now();
let tick = 0;
for (;;) {
  let sighting;
  try {
    sighting = sightingOf(await fetchAnswer(url, key, Math.max(2000, intervalMs)));
  } catch (problem) {
    // Whatever a host can do to one poll, the next one may be fine again.
    sighting = UNKNOWN;
    // Only the name of the problem: its text may quote the key.
    console.error(`no usable answer: ${problem?.cause?.code ?? problem?.name}`);
  }
  process.stdout.write(`${JSON.stringify(sighting)}\n`);
  // To the next multiple of the interval: a slow answer must not make the rhythm drift. Counted in ticks, because a
  // timer may fire a little early and would then poll twice.
  tick = Math.max(tick + 1, Math.ceil((performance.now() - startedMs) / intervalMs));
  await new Promise((resolve) => setTimeout(resolve, startedMs + tick * intervalMs - performance.now()));
}
