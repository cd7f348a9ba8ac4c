"""A small watcher to be tested: `python3 watcher.py URL KEY [INTERVAL_SECONDS]`. Put your own in its place.

It only reports what the host says. It is no reason to leave a hot printer alone.
"""

import json
import sys
import time
import urllib.request

PHASES = {"processing-stopped": "paused", "completed": "finished", "canceled": "cancelled", "aborted": "error"}


class NoRedirect(urllib.request.HTTPRedirectHandler):
    """Makes a redirect an error: the key must not go anywhere else."""

    def redirect_request(self, *_):
        return None


OPENER = urllib.request.build_opener(NoRedirect, urllib.request.ProxyHandler({}))


def number(value):
    """The value if it is a number; what is null or missing is not known."""
    return value if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def phase(answer):
    heats = any(str(reason).endswith("-heating-report") for reason in answer["printer-state-reasons"])
    job = answer["job"]
    if job is None:
        return "error" if answer["printer-state"] == "stopped" else "heating" if heats else "idle"
    if job["job-state"] == "processing":
        return "heating" if heats else "printing"
    return PHASES.get(job["job-state"], "idle" if job["job-state"].startswith("pending") else "unknown")


def heater(told):
    target = number(told.get("target-celsius"))
    on = None if target is None else target > 0
    return {"actual-celsius": number(told.get("actual-celsius")), "target-celsius": target, "on": on}


def poll(url, key):
    """Asks once and gives a sighting; whatever goes wrong, the answer is that nothing is known."""
    try:
        request = urllib.request.Request(url + "/printer", headers={"Authorization": "Bearer " + key})
        with OPENER.open(request, timeout=2) as response:
            answer = json.load(response)
        heaters = {name: heater(told) for name, told in answer["heaters"].items()}
        return {"phase": phase(answer), "heaters": heaters}
    except Exception:  # a failed poll is no reason to end
        return {"phase": "unknown"}


def main():
    url, key = sys.argv[1:3]
    interval_s = float(sys.argv[3]) if len(sys.argv) > 3 else 1.0
    while True:
        print(json.dumps(poll(url, key)), flush=True)
        time.sleep(interval_s)


if __name__ == "__main__":
    main()
