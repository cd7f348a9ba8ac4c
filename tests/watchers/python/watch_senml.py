#!/usr/bin/env python3
"""Watch a printer whose host speaks Sensor Measurement Lists (RFC 8428): one JSON line, a sighting, per poll.

Usage: watch_senml.py URL KEY [INTERVAL_SECONDS]

It differs from watch.py, which stands beside it, only in what it asks and in what it reads out of the answer. A watcher
only reports what the host says. It is no fire alarm and no reason to leave a hot printer alone.
"""

import base64
import json
import sys
import urllib.request

import watch

PHASES = {"idle", "heating", "printing", "paused", "error", "finished", "cancelled"}


def fetch(url, key, timeout_s):
    """Asks the host once, as watch.py does, with the key as a password (RFC 7617)."""
    login = base64.b64encode(f"watcher:{key}".encode()).decode()
    headers = {"Authorization": f"Basic {login}", "Accept": "application/senml+json"}
    request = urllib.request.Request(url.rstrip("/") + "/senml", headers=headers)
    return records(json.loads(watch.read(request, timeout_s)))


def records(pack):
    """Resolves a pack (RFC 8428 s4.6) to values by name, without the base name; a name that is there twice, or a record
    that is none, is not known."""
    if not isinstance(pack, list) or not pack:
        raise ValueError("not a SenML pack")
    values, base, doubtful = {}, "", set()
    for record in pack:
        if not isinstance(record, dict):
            continue
        base = record.get("bn", base)
        name = record.get("n")
        if not isinstance(name, str):
            continue
        if name in values:
            doubtful.add(name)
        # Exactly one value (s4.2), whatever else there may be.
        values[name] = next((record[kind] for kind in ("v", "vs", "vb") if kind in record), None)
    return {name: value for name, value in values.items() if name not in doubtful}


def heater_of(values, name):
    target = watch.number(values.get(f"heaters/{name}/target"))
    return {
        "actual-celsius": watch.number(values.get(f"heaters/{name}/actual")),
        "target-celsius": target,
        "on": None if target is None else target > 0,
    }


def sighting_of(values):
    state = values.get("printer/state")
    names = {name.split("/")[1] for name in values if name.startswith("heaters/")}
    progress = watch.number(values.get("job/progress"))
    return {
        "phase": state if state in PHASES else "unknown",
        "heaters": {name: heater_of(values, name) for name in sorted(names)},
        "progress-percent": None if progress is None else 100 * progress,
        "elapsed-seconds": watch.number(values.get("job/elapsed")),
        "remaining-seconds": watch.number(values.get("job/remaining")),
    }


if __name__ == "__main__":
    watch.fetch, watch.sighting_of = fetch, sighting_of
    sys.exit(watch.main())
