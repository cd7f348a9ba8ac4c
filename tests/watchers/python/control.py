#!/usr/bin/env python3
"""Watch a printer as watch.py does, and pass on what is asked of it: a line on standard input, pause, resume or cancel.

Usage: control.py URL KEY [INTERVAL_SECONDS]

A command is sent once. If its answer is lost it may have been carried out all the same, so it is not sent again; the next
poll shows what has become of it, and whoever pressed the button sees it.
"""

import http.client
import sys
import threading
import urllib.parse

import watch

TIMEOUT_S = 5


def send(url, key, command):
    """Sends one command; tells on the error stream how it went."""
    parts = urllib.parse.urlsplit(url)
    connection = http.client.HTTPConnection(parts.netloc, timeout=TIMEOUT_S)
    try:
        connection.request("POST", f"{parts.path.rstrip('/')}/job/{command}", headers={"Authorization": watch.bearer(key)})
        status = connection.getresponse().status
        said = "done" if status < 300 else f"refused with {status}"
    except (OSError, http.client.HTTPException) as problem:
        said = f"no answer: {type(problem).__name__}"
    finally:
        connection.close()
    print(f"{command}: {said}", file=sys.stderr, flush=True)


def listen(url, key):
    """Passes on each line that is a command."""
    for line in sys.stdin:
        if line.strip() in ("pause", "resume", "cancel"):
            send(url, key, line.strip())


if __name__ == "__main__":
    threading.Thread(target=listen, args=sys.argv[1:3], daemon=True).start()
    watch.main()
