
// Shows the last exchanges, and one in full.

const SHOWN = 50;

// Exchanges by number.
let exchanges = new Map();
let fetching = false;
let again = false;
let lastKnown = 0;

/** Begins anew: the mock may be another one than before. */
function forgetRequests() {
  exchanges = new Map();
  lastKnown = 0;
  fetchRequests();
}

/** Asks for what is new, and again for what was not over; once at a time. */
async function fetchRequests() {
  if (fetching) {
    again = true;
    return;
  }
  fetching = true;
  try {
    do {
      again = false;
      // An answer may be late, and a fault may happen after it.
      const open = [...exchanges.values()].filter(({ answer }) => answer === null).map(({ number }) => number - 1);
      const since = Math.max(0, Math.min(lastKnown - 5, ...open));
      const { requests, last } = await ask("GET", `/requests?since=${since}&limit=${SHOWN * 2}`);
      for (const one of requests) exchanges.set(one.number, one);
      lastKnown = Math.max(lastKnown, ...requests.map(({ number }) => number));
      for (const number of [...exchanges.keys()].sort((a, b) => a - b).slice(0, -SHOWN)) exchanges.delete(number);
      say($("#count"), `${last} in all, the last ${Math.min(SHOWN, exchanges.size)} kept here`);
      if (!$("#hold").checked) showRequests();
      await new Promise((resolve) => setTimeout(resolve, 200));
    } while (again);
  } catch {
    // The line says it.
  } finally {
    fetching = false;
  }
}

function showRequests() {
  const all = [...exchanges.values()].sort((a, b) => b.number - a.number);
  const shown = $("#faulty").checked ? all.filter(({ faults }) => faults.length > 0) : all;
  $("#requests .none").hidden = all.length > 0;
  $("#requests .scroll").hidden = all.length === 0;
  keep($("#requests tbody"), shown, ({ number }) => number, beginExchange, showExchange);
}

function beginExchange({ number }) {
  const button = make("button", { type: "button" }, String(number));
  button.setAttribute("aria-label", `Show exchange ${number} in full`);
  const row = make("tr", {}, make("td", {}, button), ...Array.from({ length: 7 }, () => make("td")));
  const names = ["", "at", "conn.", "", "", "", "", "faults"];
  names.forEach((name, index) => name && (row.children[index].dataset.name = name));
  row.addEventListener("click", () => openExchange(row.exchange));
  return row;
}

function showExchange(row, one) {
  row.exchange = one;
  const status = one.answer ? String(one.answer.status) : "no answer";
  const bytes = one.answer ? `${one.answer.body.bytes + (one.pushed?.bytes ?? 0)} B` : "";
  const at = one.at.replace(/ \d+(µs|ns)/g, "");
  const texts = [at, String(one.connection), one.method, one.target, status, bytes, one.faults.join(", ")];
  texts.forEach((text, index) => say(row.children[index + 1], text));
  row.classList.toggle("happened", one.faults.length > 0);
  row.children[5].classList.toggle("bad-status", !one.answer || one.answer.status >= 400);
}

function openExchange(one) {
  const head = (fields) => fields.map(([name, value]) => `${name}: ${value}`).join("\n");
  const body = (part) => (part === null || part.text === "" ? "" : `\n\n${part.text}${part.cut ? `\n… (cut; ${part.bytes} bytes in all)` : ""}`);
  const { answer, pushed } = one;
  const about = make("dl");
  facts(about, [
    ["read at", one.at],
    ["connection", String(one.connection)],
    ["faults", one.faults.join(", ") || "none"],
    ...(answer ? [["answer made at", answer.at], ["body", `${answer.body.bytes} bytes, before a fault has its way with it`]] : []),
    ...(pushed ? [["pushed", `${pushed.messages} messages, ${pushed.bytes} bytes`]] : []),
  ]);
  say($("#exchange-title"), `Exchange ${one.number}`);
  $("#exchange-text").replaceChildren(
    about,
    make("h3", {}, "Request"),
    make("pre", {}, `${one.method} ${one.target}\n${head(one.fields)}${body(one.body)}`),
    make("h3", {}, "Answer"),
    make("pre", {}, answer ? `${answer.status}\n${head(answer.fields)}${body(answer.body)}` : "None, or not yet."),
  );
  $("#exchange").showModal();
}

function beginRequests() {
  $("#hold").addEventListener("change", showRequests);
  $("#faulty").addEventListener("change", showRequests);
}
