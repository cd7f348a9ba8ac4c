
// Asks the mock, and knows whether it still answers.

const PATIENCE_MS = 4000;

// Shown by a person, kept nowhere else.
let key = null;

/** Is a problem that the mock tells (RFC 9457), or that it tells nothing at all. */
class Problem extends Error {
  constructor(text, status = 0) {
    super(text);
    this.status = status;
  }
}

function headers(more = {}) {
  return key === null ? more : { ...more, Authorization: `Bearer ${key}` };
}

/** Asks for a resource and gives the JSON of the answer, or null. */
async function ask(method, path, body) {
  const options = { method, headers: headers(), signal: AbortSignal.timeout(PATIENCE_MS), cache: "no-store" };
  if (body !== undefined) {
    options.headers = headers({ "Content-Type": "application/json" });
    options.body = JSON.stringify(body);
  }
  let answer;
  let text;
  try {
    answer = await fetch(path, options);
    text = await answer.text();
  } catch {
    throw new Problem("The mock does not answer.");
  }
  if (!answer.ok) throw problem(answer.status, text);
  return text === "" ? null : JSON.parse(text);
}

function problem(status, text) {
  if (status === 401) askForKey();
  try {
    const { detail, pointer } = JSON.parse(text);
    return new Problem(`${detail}${pointer ? ` (at ${pointer})` : ""}`, status);
  } catch {
    return new Problem(`The mock answered ${status}.`, status);
  }
}

function askForKey() {
  $("#key-form").hidden = false;
  if (key !== null) say($("#key-form .problem"), "The key is wrong.");
}

/** Does what a form or a button asks for, and shows what is wrong beside it. */
async function attempt(place, change) {
  const told = $(".problem", place);
  say(told, "");
  try {
    await change();
    return true;
  } catch (error) {
    const text = error.message;
    say(told, `${text[0].toUpperCase()}${text.slice(1)}`);
    return false;
  } finally {
    look();
  }
}

/** Reads server-sent events for ever, beginning again whenever they end. Not by EventSource: that
 *  can show no key. `begin` is called at each beginning, `each` with the name of each event. */
async function listen(begin, each) {
  for (let wait = 500; ; wait = Math.min(wait * 2, 4000)) {
    const cut = new AbortController();
    // The mock sends a comment every 15 s when there is nothing to tell.
    let patience = setTimeout(() => cut.abort(), 40000);
    try {
      const answer = await fetch("/log/stream", { headers: headers(), signal: cut.signal, cache: "no-store" });
      if (!answer.ok) throw problem(answer.status, await answer.text());
      wait = 500;
      state.stream = true;
      begin();
      let rest = "";
      const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
      for (;;) {
        const { value, done } = await reader.read();
        if (done) break;
        clearTimeout(patience);
        patience = setTimeout(() => cut.abort(), 40000);
        const lines = (rest + value).split("\n");
        rest = lines.pop();
        for (const line of lines) if (line.startsWith("event: ")) each(line.slice(7).trim());
      }
    } catch {
      // It is said below, and begun again.
    }
    clearTimeout(patience);
    state.stream = false;
    showLine();
    await new Promise((resolve) => {
      listenNow = resolve;
      setTimeout(resolve, wait);
    });
  }
}

/** Ends the wait before the stream is begun again. */
let listenNow = () => {};

/** Is what is known of the line to the mock; `seen` is when it last told the truth. */
const state = { answers: false, stream: false, seen: null };

/** Says whether what is shown is of now, and greys what is not. */
function showLine() {
  const fresh = state.answers && state.stream;
  const clock = state.seen === null ? null : state.seen.toLocaleTimeString();
  const old = (is) => (is ? `Old: as of ${clock ?? "never"}.` : "");
  for (const part of document.querySelectorAll(".seen")) {
    const isOld = part.id === "requests" ? !fresh : !state.answers;
    // Before anything was seen there is nothing to be old.
    part.classList.toggle("old", isOld && clock !== null);
    say($(".age", part), clock === null ? "" : old(isOld));
  }
  $("#line").classList.toggle("bad", !fresh);
  if (fresh) say($("#line"), "live");
  else if (!$("#key-form").hidden) say($("#line"), "The mock asks for its control key.");
  else if (state.answers) say($("#line"), "The stream of requests is broken. Trying again …");
  else if (clock === null) say($("#line"), "The mock does not answer. Trying again …");
  else say($("#line"), `The mock does not answer. What is shown is old, as of ${clock}. Trying again …`);
}
