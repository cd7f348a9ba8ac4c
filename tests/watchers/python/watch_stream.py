#!/usr/bin/env python3
"""Watch a printer by its stream of server-sent events (WHATWG HTML): one JSON line, a sighting, per event.

Usage: watch_stream.py URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]

INTERVAL_SECONDS is how long to wait before a lost stream is asked for again. It differs from watch.py, which stands
beside it, only in how it asks. A watcher only reports what the host says. It is no fire alarm and no reason to leave a
hot printer alone.
"""

import json
import os
import random
import signal
import sys
import time

import watch

# Hosts send a comment every 15 s or so if nothing else (WHATWG HTML, authoring notes): after this a stream is dead.
SILENCE_S = 20
# Nothing that a host has to say in one event is longer.
EVENT_LIMIT_BYTES = 1 << 20


class Stream(watch.Host):
    """The host's stream of events, on a connection of its own."""

    def __init__(self, *arguments):
        super().__init__(*arguments)
        self.last_id = self.retry_s = None
        self.connection.timeout = None  # the alarm limits every wait, and a stream may be silent for longer

    def condition(self):
        """Says which event was the last, for a host that keeps those we have missed."""
        return {"Last-Event-ID": self.last_id} if self.last_id else {}

    def events(self):
        """Yields the data of each whole event; raises or ends when the stream does."""
        alarm(self.timeout_s)
        response = self.response()
        if response.status != 200:
            raise watch.BadStatus(response.status, watch.retry_after_s(response))
        if response.headers.get_content_type() != "text/event-stream":
            raise ValueError("no stream of events")
        data, size = [], 0
        while True:
            # Each line is waited for as long as a stream may be silent, and no longer.
            alarm(SILENCE_S)
            line = response.readline(EVENT_LIMIT_BYTES)
            if not line.endswith(b"\n"):
                return  # ended, in the middle of an event or not: what is not whole is not used
            size += len(line)
            if size > EVENT_LIMIT_BYTES:
                raise ValueError("event too long")
            field, _, value = line.decode("utf-8-sig").rstrip("\r\n").partition(":")
            value = value.removeprefix(" ")
            if not line.strip():
                if data:
                    yield "\n".join(data)
                data, size = [], 0
            elif field == "data":
                data.append(value)
            elif field == "id":
                self.last_id = value if value.isprintable() and value.isascii() else None
            elif field == "retry" and value.isascii() and value.isdigit():
                self.retry_s = min(int(value) / 1000, watch.MOST_WAIT_S)


def alarm(seconds):
    """Ends whatever waits for the host after so long."""
    signal.setitimer(signal.ITIMER_REAL, seconds)


def say(sighting):
    try:
        print(json.dumps(sighting), flush=True)
    except BrokenPipeError:  # nobody reads any more
        os._exit(0)


def main():
    try:
        url, key, interval_s = sys.argv[1], sys.argv[2], float(sys.argv[3] if len(sys.argv) > 3 else 1)
        if not 0 < interval_s <= 3600:
            raise ValueError
        headers = {"Authorization": watch.bearer(key), "Accept": "text/event-stream", "Cache-Control": "no-store"}
        authority = sys.argv[4] if len(sys.argv) > 4 else None
        stream = Stream(url, "/printer/events", headers, max(2, interval_s), authority)
    except (IndexError, ValueError, OSError):
        sys.exit("usage: watch_stream.py URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]")
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: os._exit(0))
    signal.signal(signal.SIGALRM, watch.give_up)
    failures = 0
    while True:
        wait_s = 0
        try:
            for body in stream.events():
                say(watch.sighting_in(body))
                failures = 0
        except Exception as problem:  # whatever a host can do to one stream, the next one may be fine again
            wait_s = getattr(problem, "wait_s", 0) * random.uniform(1, 1.1)
            reason = problem if isinstance(problem, watch.BadStatus) else type(problem).__name__
            print(f"no stream: {reason}", file=sys.stderr, flush=True)
        alarm(0)
        stream.forget()
        say(watch.UNKNOWN)
        failures += 1
        # What the host asks of who comes back (`retry`), and no less.
        time.sleep(max(watch.back_off_s(failures, interval_s), wait_s, stream.retry_s or 0))


if __name__ == "__main__":
    main()
