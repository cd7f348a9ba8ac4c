"""The text of a shelf display, as it was on the night of docs/field-bug.md: `as_it_was.py URL KEY [SECONDS]`.

It has the bug of that night. A display only shows what the host says; it is no reason to leave a hot
printer alone.
"""

import json
import sys
import time
import urllib.request


def heater(name, told):
    return f"{name} {told['actual-celsius']:.0f} of {told['target-celsius']:.0f} °C"


def shown(answer):
    heaters = [heater(name, told) for name, told in answer["heaters"].items()]
    job = answer["job"]
    progress = "no job" if job is None else f"{job['job-name']} {job['progress-percent']:.0f} %"
    return ", ".join([answer["printer-state"], progress, *heaters])


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
