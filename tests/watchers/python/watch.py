#!/usr/bin/env python3
"""Watch a filament printer through its network host: one JSON line, a sighting, per poll.

Usage: watch.py URL KEY [INTERVAL_SECONDS]

Python 3.11 or later, standard library only, POSIX (the time-out uses an alarm signal, so it must run in the main
thread). A watcher only reports what the host says. It is no fire alarm and no reason to leave a hot printer alone.
"""

import json
import os
import signal
import sys
import time
import urllib.error
import urllib.request

BODY_LIMIT_BYTES = 1 << 20
# Printed whenever there is no usable answer: what was seen before is withdrawn, because it may no longer be true.
UNKNOWN = {
    "phase": "unknown",
    "heaters": {},
    "progress-percent": None,
    "elapsed-seconds": None,
    "remaining-seconds": None,
}
# RFC 8011 s5.3.7 job states; `processing` is missing here because it also depends on the printer's reasons.
JOB_PHASES = {
    "pending": "idle",
    "pending-held": "idle",
    "processing-stopped": "paused",
    "canceled": "cancelled",
    "aborted": "error",
    "completed": "finished",
}


class NoRedirect(urllib.request.HTTPRedirectHandler):
    """Makes a redirect an error, because following it could hand the key to another host."""

    def redirect_request(self, *_):
        return None


# The printer is on the local network: a proxy named in the environment is not asked.
OPENER = urllib.request.build_opener(NoRedirect, urllib.request.ProxyHandler({}))


def give_up(*_):
    """Ends a request that takes too long, wherever it is waiting."""
    raise TimeoutError


def fetch(url, key, timeout_s):
    """Asks the host once. Returns the answer (a dict) or raises for everything that is not a usable answer."""
    address = url.rstrip("/") + "/printer"
    headers = {"Authorization": f"Bearer {key}", "Accept": "application/json", "User-Agent": "example-watcher-python/1"}
    answer = json.loads(read(urllib.request.Request(address, headers=headers), timeout_s))
    if not isinstance(answer, dict):
        raise ValueError("not a JSON object")
    return answer


def read(request, timeout_s):
    """Sends one request. Returns the text of a whole, good answer or raises."""
    # The socket's time-out only limits each single wait; a host that sends a byte now and then would hold us for ever.
    signal.setitimer(signal.ITIMER_REAL, timeout_s)
    try:
        with OPENER.open(request, timeout=timeout_s) as response:
            if response.status != 200:
                raise ValueError("not a 200")
            body = response.read(BODY_LIMIT_BYTES + 1)
            # A limited read does not complain about a body that ends early (RFC 9112 s8): ask what is still owed. A
            # length that is no number is passed over by the library, but makes the answer invalid (RFC 9112 s6.3).
            length = response.headers.get("Content-Length", "0")
            if len(body) > BODY_LIMIT_BYTES or response.length or not length.isdigit():
                raise ValueError("body too long or cut short")
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
    return body.decode("utf-8-sig")


def number(value):
    """The value if it is a finite number, else None: null, missing and wrong types all mean that it is not known."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None  # true and false count as integers in Python
    return value if abs(value) <= sys.float_info.max else None


def heating(answer):
    """Whether some heater is on its way to its target; None if the reasons cannot be read."""
    reasons = answer.get("printer-state-reasons")
    if not isinstance(reasons, list) or not all(isinstance(reason, str) for reason in reasons):
        return None
    return any(reason.endswith("-heating-report") for reason in reasons)


def phase_of(answer):
    """The printer's phase in the words that a person uses."""
    job = answer.get("job", "missing")
    if job is None:
        state = answer.get("printer-state")
        if state == "stopped":
            return "error"
        if heating(answer) is None:
            return "unknown"
        if heating(answer):
            return "heating"
        return "idle" if state in ("idle", "processing") else "unknown"
    if not isinstance(job, dict):
        return "unknown"
    state = job.get("job-state")
    if state == "processing":
        return {True: "heating", False: "printing", None: "unknown"}[heating(answer)]
    return JOB_PHASES.get(state, "unknown") if isinstance(state, str) else "unknown"


def heater_of(heater):
    """One heater's part of the sighting. On or off is what the host wants, so it follows from the target alone."""
    heater = heater if isinstance(heater, dict) else {}
    actual = number(heater.get("actual-celsius"))
    target = number(heater.get("target-celsius"))
    return {"actual-celsius": actual, "target-celsius": target, "on": None if target is None else target > 0}


def sighting_of(answer):
    """What one answer says. Each value stands alone, so that one bad value does not take the others with it."""
    heaters, job = answer.get("heaters"), answer.get("job")
    heaters = heaters if isinstance(heaters, dict) else {}
    job = job if isinstance(job, dict) else {}
    return {
        "phase": phase_of(answer),
        "heaters": {name: heater_of(heater) for name, heater in heaters.items()},
        "progress-percent": number(job.get("progress-percent")),
        "elapsed-seconds": number(job.get("elapsed-seconds")),
        "remaining-seconds": number(job.get("remaining-seconds")),
    }


def main():
    try:
        url, key, interval_s = sys.argv[1], sys.argv[2], float(sys.argv[3] if len(sys.argv) > 3 else 1)
        if not 0 < interval_s <= 3600:
            raise ValueError
    except (IndexError, ValueError):
        sys.exit("usage: watch.py URL KEY [INTERVAL_SECONDS]")
    # Every line is flushed, so nothing is lost by leaving on the spot.
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: os._exit(0))
    signal.signal(signal.SIGALRM, give_up)
    started_s = time.monotonic()
    while True:
        try:
            sighting = sighting_of(fetch(url, key, max(2, interval_s)))
        except Exception as problem:  # whatever a host can do to one poll, the next one may be fine again
            sighting = UNKNOWN
            # Only the name of the problem: its text may quote the key.
            print(f"no usable answer: {type(problem).__name__}", file=sys.stderr, flush=True)
        try:
            print(json.dumps(sighting), flush=True)
        except BrokenPipeError:  # nobody reads any more
            os._exit(0)
        # To the next multiple of the interval: a slow answer must not make the rhythm drift.
        time.sleep(interval_s - (time.monotonic() - started_s) % interval_s)


if __name__ == "__main__":
    main()
