"""A small watcher with its mistakes built in: watch.py MISTAKE URL KEY INTERVAL_SECONDS.

MISTAKE is none, keeps-target (what is null is shown as it was), keeps-all (after a failure all is shown as it was) or
dies (of the first answer that it cannot use).
"""

import json
import sys
import time
import urllib.request

MISTAKE, URL, KEY, INTERVAL_S = sys.argv[1:5]
UNKNOWN = {"phase": "unknown"}
PHASES = {"processing-stopped": "paused", "completed": "finished", "canceled": "cancelled", "aborted": "error"}
OPENER = urllib.request.build_opener(urllib.request.ProxyHandler({}))
targets = {}


def number(value):
    return value if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def phase(answer):
    heats = any(str(reason).endswith("-heating-report") for reason in answer["printer-state-reasons"])
    job = answer["job"]
    if job is None:
        return "error" if answer["printer-state"] == "stopped" else "heating" if heats else "idle"
    if job["job-state"] == "processing":
        return "heating" if heats else "printing"
    return PHASES.get(job["job-state"], "idle" if job["job-state"].startswith("pending") else "unknown")


def heater(name, told):
    target = number(told.get("target-celsius"))
    if MISTAKE == "keeps-target":
        target = targets.get(name) if target is None else target
        targets[name] = target
    return {"actual-celsius": number(told.get("actual-celsius")), "target-celsius": target}


def look():
    request = urllib.request.Request(URL + "/printer", headers={"Authorization": "Bearer " + KEY})
    with OPENER.open(request, timeout=2) as response:
        answer = json.load(response)
    heaters = {name: heater(name, told) for name, told in answer["heaters"].items()}
    return {"phase": phase(answer), "heaters": heaters}


while True:
    try:
        print(json.dumps(look()), flush=True)
    except Exception as problem:
        if MISTAKE == "dies":
            sys.exit(9)
        if MISTAKE != "keeps-all":
            print(json.dumps(UNKNOWN), flush=True)
        print(type(problem).__name__, file=sys.stderr, flush=True)
    time.sleep(float(INTERVAL_S))
