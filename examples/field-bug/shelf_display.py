"""The text of a shelf display, mended after the night of docs/field-bug.md: `shelf_display.py URL KEY [SECONDS]`.

as_it_was.py is what it was. A display only shows what the host says; it is no reason to leave a hot
printer alone.
"""

import json
import sys
import time
import urllib.request


def whole(told, member):
    """A number without its decimals; `?` for what is null, missing or no number."""
    value = told.get(member) if isinstance(told, dict) else None
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return f"{value:.0f}" if is_number else "?"


def heater(name, told):
    return f"{name} {whole(told, 'actual-celsius')} of {whole(told, 'target-celsius')} °C"


def shown(answer):
    told = answer.get("heaters") or {}
    heaters = [heater(name, of_one) for name, of_one in told.items()]
    job = answer.get("job", {})
    name = job.get("job-name", "a job") if isinstance(job, dict) else "a job"
    progress = "no job" if job is None else f"{name} {whole(job, 'progress-percent')} %"
    return ", ".join([answer.get("printer-state") or "?", progress, *heaters])


def main():
    url, key = sys.argv[1:3]
    pause_s = float(sys.argv[3]) if len(sys.argv) > 3 else 5.0
    request = urllib.request.Request(url + "/printer", headers={"Authorization": "Bearer " + key})
    while True:
        try:
            with urllib.request.urlopen(request, timeout=5) as response:
                answer = json.load(response)
        except OSError:
            print("no answer", flush=True)
        else:
            print(shown(answer), flush=True)
        time.sleep(pause_s)


if __name__ == "__main__":
    main()
