
// Shows and sets the clock.

const RATES = [1, 10, 60, 600];
const clockPlace = $("#now").closest("section");
let paused = false;

function showClock(clock) {
  paused = clock.paused;
  say($("#now"), duration(clock["now-seconds"]));
  const rate = `${clock.rate} virtual second${clock.rate === 1 ? "" : "s"} per real second`;
  say($("#pace"), paused ? `Paused; would go at ${rate}` : `Runs at ${rate}`);
  say($("#pause"), paused ? "Resume" : "Pause");
  for (const button of $("#rates").children) button.setAttribute("aria-pressed", Number(button.value) === clock.rate);
}

const setClock = (setting) => attempt(clockPlace, async () => showClock(await ask("PUT", "/clock", setting)));

/** Gives the number in a field, or says what is wrong with it. */
function numberIn(text, name) {
  const number = Number(text);
  if (text.trim() === "" || Number.isNaN(number)) throw new Problem(`${name} is no number.`);
  return number;
}

function beginClock() {
  for (const rate of RATES) {
    const button = make("button", { type: "button", value: rate }, `× ${rate}`);
    button.setAttribute("aria-label", `Rate ${rate}`);
    button.addEventListener("click", () => setClock({ rate }));
    $("#rates").append(button);
  }
  $("#pause").addEventListener("click", () => setClock({ paused: !paused }));
  $("#rate-form").addEventListener("submit", (event) => {
    event.preventDefault();
    attempt(clockPlace, async () => {
      showClock(await ask("PUT", "/clock", { rate: numberIn($("#rate").value, "The rate") }));
    });
  });
  $("#jump-form").addEventListener("submit", (event) => {
    event.preventDefault();
    const jump = { [$("#jump-how").value]: $("#jump-time").value.trim() };
    attempt(clockPlace, async () => showClock(await ask("POST", "/clock/jump", jump)));
  });
}
