#!/usr/bin/env node
// Watch a filament printer through its network host: one JSON line, a sighting, per poll.
//
// Usage: node watch.mjs URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]
//
// AUTHORITY_FILE (PEM) is whom to trust if the URL is https. Node 20 or later, nothing to install. A watcher only
// reports what the host says. It is no fire alarm and no reason to leave a hot printer alone.

import { once } from "node:events";
import { readFileSync } from "node:fs";
import http from "node:http";
import https from "node:https";
import os from "node:os";

const BODY_LIMIT_BYTES = 1 << 20;
// However long a host asks not to be asked, and however often it has failed: not to sleep for ever after nonsense.
const MOST_WAIT_MS = 60_000;
// Absolute zero (BIPM, The International System of Units, from memory).
const COLDEST_CELSIUS = -273.15;

// Printed whenever there is no usable answer: what was seen before is withdrawn, because it may no longer be true.
const UNKNOWN = {
  phase: "unknown",
  heaters: {},
  "progress-percent": null,
  "elapsed-seconds": null,
  "remaining-seconds": null,
  "job-name": null,
  reason: null,
  "safe-to-touch": null,
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

// The printer's host: a kept connection, and the last good body with its tag.
class Host {
  constructor(url, key, timeoutMs, authority) {
    this.url = new URL(`${url.replace(/\/+$/, "")}/printer`);
    this.client = this.url.protocol === "https:" ? https : http; // neither asks a proxy nor follows a redirect
    this.headers = { Authorization: `Bearer ${key}`, Accept: "application/json", "User-Agent": "example-watcher/2" };
    this.timeoutMs = timeoutMs;
    // Only this authority is trusted, if one is named (an empty name is none); certificates are checked in any case.
    this.authority = authority ? { ca: readFileSync(authority) } : {};
    this.forget();
  }

  // Starts anew: what may still come on the connection answers no later question.
  forget() {
    this.agent?.destroy();
    this.agent = new this.client.Agent({ keepAlive: true, maxSockets: 1, ...this.authority });
    this.tag = this.body = null;
  }

  // Asks once. Returns the text of a whole, good answer or throws.
  async ask() {
    const signal = AbortSignal.timeout(this.timeoutMs); // for the whole exchange, the body included
    try {
      return await this.textOf(await this.response(signal));
    } catch (problem) {
      this.forget();
      throw problem;
    }
  }

  // Sends the question, on the kept connection if there is one, and reads the head of the answer.
  async response(signal) {
    const condition = this.tag ? { "If-None-Match": this.tag } : {}; // spares the host a body that we have
    const { agent } = this;
    const request = this.client.get(this.url, { agent, headers: { ...this.headers, ...condition }, signal });
    request.on("error", () => {}); // it is told by what waits for the answer
    try {
      return (await once(request, "response"))[0];
    } catch (problem) {
      // Closed while we asked: a question that changes nothing is asked once more (RFC 9112 s9.3.1).
      if (!request.reusedSocket || signal.aborted) throw problem;
      return this.response(signal);
    }
  }

  // Reads the rest of an answer: a whole 200, or a 304, which says that the last good body is true now.
  async textOf(response) {
    const chunks = [];
    let length = 0;
    // This throws for a body that ends before its Content-Length or last chunk (RFC 9112 s8).
    for await (const chunk of response) {
      length += chunk.length;
      if (length > BODY_LIMIT_BYTES) throw new Error("body too long");
      chunks.push(chunk);
    }
    if (response.statusCode === 304 && this.tag) return this.body;
    if (response.statusCode !== 200) throw new BadStatus(response);
    // `fatal`: bytes that are not UTF-8 make the body unusable instead of turning into replacement characters.
    this.body = new TextDecoder("utf-8", { fatal: true }).decode(Buffer.concat(chunks));
    this.tag = response.headers.etag;
    return this.body;
  }
}

// The host has answered, but not with what was asked for.
class BadStatus extends Error {
  constructor(response) {
    super(`status ${response.statusCode}`);
    this.waitMs = retryAfterMs(response);
  }
}

// How long a host that is busy asks to be left alone (RFC 9110 s10.2.3); 0 for nothing and for nonsense.
function retryAfterMs({ statusCode, headers }) {
  const value = headers["retry-after"] ?? "";
  if (statusCode !== 429 && statusCode !== 503) return 0;
  // A date is held against the host's own clock if it has one, because ours may differ.
  const waitMs = /^\d+$/.test(value) ? 1000 * value : httpDateMs(value) - (httpDateMs(headers.date) || Date.now());
  return Math.min(Math.max(waitMs || 0, 0), MOST_WAIT_MS);
}

// A date in one of the three forms of RFC 9110 s5.6.7, all of them in GMT, as Unix time; else NaN.
function httpDateMs(value = "") {
  if (!/^[A-Z][a-z]+,? /.test(value)) return NaN; // Date.parse takes a bare number for a year
  return Date.parse(value.endsWith(" GMT") ? value : `${value} GMT`);
}

// The wait after so many failures in a row: doubled each time, and not the same for all who lost the host at once.
function backOffMs(failures, intervalMs) {
  const mostMs = Math.max(intervalMs, Math.min(8 * intervalMs, MOST_WAIT_MS));
  return Math.min(intervalMs * 2 ** failures, mostMs) * (0.5 + Math.random() / 2);
}

function isObject(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

// The value if it is a number that can be, else null: null, missing and wrong types mean that it is not known, and one
// that cannot be is a mistake or of another unit.
function number(value, least = -Infinity, most = Infinity) {
  return Number.isFinite(value) && value >= least && value <= most ? value : null;
}

// Half a character is no text (RFC 8259 s8.2): our own line could not be read.
function text(value) {
  return typeof value === "string" && value.isWellFormed() ? value : null;
}

// Why the printer does what it does, in the host's keywords.
function reasonOf(answer) {
  const reasons = answer["printer-state-reasons"];
  return Array.isArray(reasons) ? reasons.filter((reason) => text(reason)).join(" ") : null;
}

// Whether all that is heated is cool, on or off: below the burn threshold of bare metal at the longest contact (ISO
// 13732-1:2006, from memory); null if one reading is not known. No advice to touch anything.
function cool(readings) {
  return readings.length === 0 || readings.includes(null) ? null : Math.max(...readings) < 43;
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
  const actual = number(heater?.["actual-celsius"], COLDEST_CELSIUS);
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
    "progress-percent": number(job["progress-percent"], 0, 100),
    "elapsed-seconds": number(job["elapsed-seconds"], 0),
    "remaining-seconds": number(job["remaining-seconds"], 0),
    "job-name": text(job["job-name"]),
    reason: reasonOf(answer),
    "safe-to-touch": cool(heaters.map(([, heater]) => heaterOf(heater)["actual-celsius"])),
  };
}

// What a body says; throws if it is no JSON object.
function sightingIn(text) {
  const answer = JSON.parse(text);
  if (!isObject(answer)) throw new Error("not a JSON object");
  return sightingOf(answer);
}

// Goes on while the machine sleeps; performance.now() may not.
function awakeMs() {
  return os.uptime() * 1000;
}

const [url, key, interval = "1", authority] = process.argv.slice(2);
const intervalMs = Number(interval) * 1000;
const timeoutMs = Math.max(2000, intervalMs);
let host;
try {
  if (key === undefined || !(intervalMs > 0 && intervalMs <= 3_600_000)) throw new Error("usage");
  host = new Host(url, key, timeoutMs, authority);
} catch {
  console.error("usage: watch.mjs URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]");
  process.exit(2);
}
process.on("SIGTERM", () => process.exit(0));
process.on("SIGINT", () => process.exit(0));
process.stdout.on("error", () => process.exit(0)); // nobody reads any more

let failures = 0;
for (;;) {
  const askedMs = awakeMs();
  let sighting, waitMs;
  try {
    sighting = sightingIn(await host.ask());
    failures = 0;
  } catch (problem) {
    // Whatever a host can do to one poll, the next one may be fine again.
    sighting = UNKNOWN;
    failures += 1;
    waitMs = Math.max(backOffMs(failures, intervalMs), (problem?.waitMs ?? 0) * (1 + Math.random() / 10));
    // Only the name of a problem that is not ours: its text may quote the key.
    const reason = problem instanceof BadStatus ? problem.message : (problem?.code ?? problem?.name);
    console.error(`no usable answer: ${reason}`);
  }
  if (!failures && awakeMs() - askedMs > timeoutMs) {
    host.forget(); // we slept while we asked: what was read is old, so ask again at once
    continue;
  }
  process.stdout.write(`${JSON.stringify(sighting)}\n`);
  // To the next multiple of the interval: a slow answer must not change the rhythm.
  waitMs ??= intervalMs - ((awakeMs() - askedMs) % intervalMs);
  await new Promise((resolve) => setTimeout(resolve, waitMs));
}
