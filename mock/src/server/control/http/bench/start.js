
// Begins, and looks again and again.

const LOOKS_MS = 1000;
let looking = false;
let lookAgain = false;
let formsAreMade = false;

/** Looks at everything that is shown as it is now; one look at a time, and one more if something may
 *  have changed since it began. */
async function look() {
  if (looking) {
    lookAgain = true;
    return;
  }
  looking = true;
  do {
    lookAgain = false;
    await lookOnce();
  } while (lookAgain);
  looking = false;
}

async function lookOnce() {
  try {
    const asked = ["/truth", "/clock", "/faults", "/drifts"].map((path) => ask("GET", path));
    const [truth, clock, { faults }, { drifts }] = await Promise.all(asked);
    $("#key-form").hidden = true;
    if (!formsAreMade) {
      await Promise.all([beginFaults(), beginDrifts()]);
      formsAreMade = true;
    }
    if (!state.answers) listenNow();
    state.answers = true;
    state.seen = new Date();
    showTruth(truth);
    showClock(clock);
    showRaised("faults", faults);
    showRaised("drifts", drifts);
  } catch (error) {
    if (!(error instanceof Problem)) console.error(error);
    state.answers = false;
    sample({ at: Date.now(), heaters: null });
  } finally {
    showLine();
  }
}

beginClock();
beginEvents();
beginRequests();
$("#key-form").addEventListener("submit", (event) => {
  event.preventDefault();
  key = $("#key").value;
  say($("#key-form .problem"), "");
  look();
});
look();
setInterval(look, LOOKS_MS);
listen(forgetRequests, (event) => {
  if (["request", "answer", "fault-happened", "missed"].includes(event)) fetchRequests();
  if (["change", "phase", "fault-happened"].includes(event)) look();
});
