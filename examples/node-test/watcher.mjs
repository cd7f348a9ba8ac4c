// A small watcher to be tested: `node watcher.mjs URL KEY [INTERVAL_SECONDS]`. Put your own in its place.
//
// It only reports what the host says. It is no reason to leave a hot printer alone.

import { pathToFileURL } from "node:url";

const PHASES = { "processing-stopped": "paused", completed: "finished", canceled: "cancelled", aborted: "error" };

// The value if it is a number; what is null or missing is not known.
const number = (value) => (typeof value === "number" ? value : null);

function phase(answer) {
  const heats = answer["printer-state-reasons"].some((reason) => String(reason).endsWith("-heating-report"));
  const { job } = answer;
  if (job === null) return answer["printer-state"] === "stopped" ? "error" : heats ? "heating" : "idle";
  if (job["job-state"] === "processing") return heats ? "heating" : "printing";
  return PHASES[job["job-state"]] ?? (job["job-state"].startsWith("pending") ? "idle" : "unknown");
}

function heater(told) {
  const target = number(told["target-celsius"]);
  return {
    "actual-celsius": number(told["actual-celsius"]),
    "target-celsius": target,
    on: target === null ? null : target > 0,
  };
}

// Asks once and gives a sighting; whatever goes wrong, the answer is that nothing is known.
export async function poll(url, key) {
  try {
    const answer = await fetch(`${url}/printer`, {
      headers: { authorization: `Bearer ${key}` },
      redirect: "error", // the key must not go anywhere else
      signal: AbortSignal.timeout(2000),
    });
    if (answer.status !== 200) throw new Error(`status ${answer.status}`);
    const body = await answer.json();
    const heaters = Object.entries(body.heaters).map(([name, told]) => [name, heater(told)]);
    return { phase: phase(body), heaters: Object.fromEntries(heaters) };
  } catch {
    return { phase: "unknown" };
  }
}

if (import.meta.url === pathToFileURL(process.argv[1]).href) {
  const [, , url, key, seconds = "1"] = process.argv;
  for (;;) {
    console.log(JSON.stringify(await poll(url, key)));
    await new Promise((resolve) => setTimeout(resolve, 1000 * Number(seconds)));
  }
}
