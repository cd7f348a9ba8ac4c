#!/usr/bin/env python3
"""Watch a printer whose host speaks Sensor Measurement Lists (RFC 8428): one JSON line, a sighting, per poll.

Usage: watch_senml.py URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]

It differs from watch.py, which stands beside it, only in what it asks and in what it reads out of the answer. A watcher
only reports what the host says. It is no fire alarm and no reason to leave a hot printer alone.
"""

import base64
import json
import sys

import watch

PHASES = {"idle", "heating", "printing", "paused", "error", "finished", "cancelled"}


def basic(key):
    """The key as a password (RFC 7617)."""
    return "Basic " + base64.b64encode(f"watcher:{key}".encode()).decode()


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
        "actual-celsius": watch.number(values.get(f"heaters/{name}/actual"), watch.COLDEST_CELSIUS),
        "target-celsius": target,
        "on": None if target is None else target > 0,
    }


def sighting_in(text):
    values = records(json.loads(text))
    state = values.get("printer/state")
    names = {name.split("/")[1] for name in values if name.startswith("heaters/")}
    progress = watch.number(values.get("job/progress"), 0, 1)  # a ratio (RFC 8428 s12.1)
    return {
        "phase": state if isinstance(state, str) and state in PHASES else "unknown",
        "heaters": {name: heater_of(values, name) for name in sorted(names)},
        "progress-percent": None if progress is None else 100 * progress,
        "elapsed-seconds": watch.number(values.get("job/elapsed"), 0),
        "remaining-seconds": watch.number(values.get("job/remaining"), 0),
    }


def up_time_in(text):
    return watch.number(records(json.loads(text)).get("printer/up-time"))


if __name__ == "__main__":
    sys.exit(watch.main("/senml", "application/senml+json", basic, sighting_in, up_time_in))
