// Asks a URL as a Node program would, and tells on one line how that ended: `status 200 LENGTH` or
// `error CODE`.
// Usage: node fault_client.mjs URL HOW [AUTHORITY-FILE]
//   HOW: once; fetch; again (the second request on one kept connection)
import { readFileSync } from "node:fs";
import http from "node:http";
import https from "node:https";

const [url, how, authority] = process.argv.slice(2);
const secure = url.startsWith("https:");
const { request, Agent } = secure ? https : http;
const ca = authority ? readFileSync(authority) : undefined;
const agent = new Agent({ keepAlive: true, maxSockets: 1 });
const PATIENCE_MS = 1000;

function ask() {
  return new Promise((resolve) => {
    const asked = request(url, { agent, ca, timeout: PATIENCE_MS }, (answer) => {
      let length = 0;
      answer.on("data", (bytes) => (length += bytes.length));
      answer.on("error", (error) => resolve(`error ${error.code}`));
      answer.on("end", () => resolve(`status ${answer.statusCode} ${length}`));
    });
    asked.on("timeout", () => {
      resolve("error timeout");
      asked.destroy();
    });
    asked.on("error", (error) => resolve(`error ${error.code}`));
    asked.end();
  });
}

async function fetched() {
  try {
    const answer = await fetch(url, { signal: AbortSignal.timeout(PATIENCE_MS) });
    return `status ${answer.status} ${(await answer.arrayBuffer()).byteLength}`;
  } catch (error) {
    return `error ${error.cause?.code ?? error.cause?.message ?? error.name}`;
  }
}

function line() {
  return new Promise((resolve) => process.stdin.once("data", resolve));
}

if (how === "fetch") {
  console.log(await fetched());
} else if (how === "again") {
  console.log(await ask());
  await line(); // the fault is raised meanwhile
  console.log(await ask());
} else {
  console.log(await ask());
}
process.exit(0);
