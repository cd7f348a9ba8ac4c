#!/usr/bin/env python3
"""Watch a filament printer through its network host: one JSON line, a sighting, per poll.

Usage: watch.py URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]

AUTHORITY_FILE (PEM) is whom to trust if the URL is https. Python 3.11 or later, standard library only, POSIX (the
time-out uses an alarm signal, so it must run in the main thread). A watcher only reports what the host says. It is no
fire alarm and no reason to leave a hot printer alone.
"""

import calendar
import email.utils
import http.client
import json
import os
import random
import select
import signal
import ssl
import sys
import time
import urllib.parse

# ISO 13732-1:2006, burn threshold of bare metal at the longest contact (from memory).
COOL_CELSIUS = 43
# Absolute zero (BIPM, The International System of Units, from memory).
COLDEST_CELSIUS = -273.15
BODY_LIMIT_BYTES = 1 << 20
# However long a host asks not to be asked, and however often it has failed: not to sleep for ever after nonsense.
MOST_WAIT_S = 60
# Printed whenever there is no usable answer: what was seen before is withdrawn, because it may no longer be true.
UNKNOWN = {
    "phase": "unknown",
    "heaters": {},
    "progress-percent": None,
    "elapsed-seconds": None,
    "remaining-seconds": None,
    "job-name": None,
    "reason": None,
    "safe-to-touch": None,
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


class BadStatus(Exception):
    """The host has answered, but not with what was asked for."""

    def __init__(self, status, wait_s):
        super().__init__(f"status {status}")
        self.wait_s = wait_s


class Response(http.client.HTTPResponse):
    """An answer, with whatever interim answers come before it."""

    def begin(self):
        super().begin()
        # The library only passes over 100; each other one may come as well (RFC 9110 s15.2).
        while 100 <= self.status < 200:
            self.headers = None  # or else the next head is not read
            super().begin()


class OldAnswer(Exception):
    """The host has answered well, but by its own clock not with what is true now."""


class Clock:
    """The host's up-time. It tells an answer that is true now from one that was."""

    def __init__(self):
        self.newest_s, self.went_back = None, 0

    def check(self, up_time_s, interval_s):
        """Raises if an answer with this up-time is an old one."""
        if up_time_s is None:
            return
        back_s = 0 if self.newest_s is None else self.newest_s - up_time_s
        # Two hosts or a cache behind one address: now this answer, now that. A host that has restarted is back for
        # good, or by more.
        if 0 < back_s < 600 and self.went_back < 2:
            self.went_back += 1
            raise OldAnswer
        self.went_back = 0
        if back_s != 0 or self.newest_s is None:
            self.newest_s, self.since_s, self.stood = up_time_s, awake_s(), 0
            return
        # A hung program behind its web server. Whole seconds stand still for a while, and slow clocks for longer.
        self.stood += 1
        if self.stood > 6 and awake_s() - self.since_s >= max(2, 6 * interval_s):
            raise OldAnswer


class Host:
    """The printer's host: one kept connection, and the last good body with its tag."""

    def __init__(self, url, path, headers, timeout_s, authority):
        # http.client asks no proxy and follows no redirect, which could hand the key to another host.
        parts, self.timeout_s = urllib.parse.urlsplit(url), timeout_s
        if parts.scheme == "https":
            trust = ssl.create_default_context(cafile=authority)  # checks the certificate and the name in it
            self.connection = http.client.HTTPSConnection(parts.netloc, timeout=timeout_s, context=trust)
        else:
            self.connection = http.client.HTTPConnection(parts.netloc, timeout=timeout_s)
        self.connection.response_class = Response
        self.target, self.headers = parts.path.rstrip("/") + path, headers
        self.tag = self.body = None
        self.clock = Clock()

    def ask(self):
        """Asks once. Returns the text of a whole, good answer or raises."""
        # The socket's time-out only limits each single wait; a host that sends a byte now and then would hold us long.
        signal.setitimer(signal.ITIMER_REAL, self.timeout_s)
        try:
            return self.text_of(self.response())
        except BaseException:
            self.forget()
            raise
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0)

    def forget(self):
        """Starts anew: what may still come on the connection answers no later question."""
        self.connection.close()
        self.tag = self.body = None
        self.clock = Clock()  # who was away may have restarted

    def response(self):
        """Sends the question, on the kept connection if there is one, and reads the head of the answer."""
        if self.connection.sock and select.select([self.connection.sock], [], [], 0)[0]:
            self.connection.close()  # it has ended, or brings what was not asked for (RFC 9112 s9.2)
        while True:
            kept = self.connection.sock is not None
            try:
                self.connection.request("GET", self.target, headers=self.headers | self.condition())
                return self.connection.getresponse()
            except ConnectionError:
                self.connection.close()
                # Closed while we asked: a question that changes nothing is asked once more (RFC 9112 s9.3.1).
                if not kept:
                    raise

    def condition(self):
        """Spares the host a body that we have (RFC 9110 s13.1.2)."""
        return {"If-None-Match": self.tag} if self.tag else {}

    def text_of(self, response):
        """Reads the rest of an answer: a whole 200, or a 304, which says that the last good body is true now."""
        if response.status == 304 and self.tag:
            response.read()
            return self.body
        if response.status != 200:
            raise BadStatus(response.status, retry_after_s(response))
        body = response.read(BODY_LIMIT_BYTES + 1)
        # A limited read does not complain about a body that ends early (RFC 9112 s8): ask what is still owed. A
        # length that is no number is passed over by the library, but makes the answer invalid (RFC 9112 s6.3).
        length = response.headers.get("Content-Length", "0")
        if len(body) > BODY_LIMIT_BYTES or response.length or not length.isdigit():
            raise ValueError("body too long or cut short")
        self.tag, self.body = response.headers.get("ETag"), body.decode("utf-8-sig")
        return self.body


def retry_after_s(response):
    """How long a host that is busy asks to be left alone (RFC 9110 s10.2.3); 0 for nothing and for nonsense."""
    value = response.headers.get("Retry-After", "").strip()
    if response.status not in (429, 503):
        return 0
    if value.isascii() and value.isdigit():
        return min(float(value), MOST_WAIT_S)
    # Held against the host's own clock if it has one, because ours may differ.
    until_s, now_s = http_date_s(value), http_date_s(response.headers.get("Date", ""))
    wait_s = 0 if until_s is None else until_s - (time.time() if now_s is None else now_s)
    return min(max(wait_s, 0), MOST_WAIT_S)


def http_date_s(value):
    """A date in one of the three forms of RFC 9110 s5.6.7, all of them in GMT, as Unix time; else None."""
    try:
        return calendar.timegm(email.utils.parsedate(value))
    except (TypeError, ValueError, OverflowError):
        return None


def back_off_s(failures, interval_s):
    """The wait after so many failures in a row: doubled each time, and not the same for all who lost the host."""
    most_s = max(interval_s, min(8 * interval_s, MOST_WAIT_S))
    return min(interval_s * 2 ** min(failures, 9), most_s) * random.uniform(0.5, 1)


def number(value, least=-sys.float_info.max, most=sys.float_info.max):
    """The value if it is a number that can be, else None: null, missing and wrong types mean that it is not known, and
    one that cannot be is a mistake or of another unit."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None  # true and false count as integers in Python
    return value if least <= value <= most else None


def text(value):
    """The value if it is text, else None. Half a character is none (RFC 8259 s8.2): our own line could not be read."""
    return value if isinstance(value, str) and value == value.encode(errors="ignore").decode() else None


def reason_of(answer):
    """Why the printer does what it does, in the host's keywords."""
    reasons = answer.get("printer-state-reasons")
    return " ".join(filter(text, reasons)) if isinstance(reasons, list) else None


def cool(heaters):
    """Whether all that is heated is cool, on or off; None if one reading is not known. No advice to touch anything."""
    readings = [heater_of(heater)["actual-celsius"] for heater in heaters.values()]
    return None if not readings or None in readings else max(readings) < COOL_CELSIUS


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
    actual = number(heater.get("actual-celsius"), COLDEST_CELSIUS)
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
        "progress-percent": number(job.get("progress-percent"), 0, 100),
        "elapsed-seconds": number(job.get("elapsed-seconds"), 0),
        "remaining-seconds": number(job.get("remaining-seconds"), 0),
        "job-name": text(job.get("job-name")),
        "reason": reason_of(answer),
        "safe-to-touch": cool(heaters),
    }


def sighting_in(text):
    """What a body says; raises if it is no JSON object."""
    answer = json.loads(text)
    if not isinstance(answer, dict):
        raise ValueError("not a JSON object")
    return sighting_of(answer)


def up_time_in(body):
    """How long a body says that the host is up; None if it does not."""
    try:
        return number(json.loads(body).get("printer-up-time"))
    except (ValueError, AttributeError):
        return None


def bearer(key):
    """The key in a header field, never in the URL: URLs end up in logs."""
    return f"Bearer {key}"


def awake_s():
    """Seconds that go on while the machine sleeps, where the system has such a clock."""
    return time.clock_gettime(getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC))


def main(path="/printer", media_type="application/json", login=bearer, read=sighting_in, up_time_in=up_time_in):
    try:
        url, key, interval_s = sys.argv[1], sys.argv[2], float(sys.argv[3] if len(sys.argv) > 3 else 1)
        if not 0 < interval_s <= 3600:
            raise ValueError
        timeout_s = max(2, interval_s)
        headers = {"Authorization": login(key), "Accept": media_type, "User-Agent": "example-watcher-python/2"}
        host = Host(url, path, headers, timeout_s, sys.argv[4] if len(sys.argv) > 4 else None)
    except (IndexError, ValueError, OSError, http.client.HTTPException):
        sys.exit("usage: watch.py URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]")
    # Every line is flushed, so nothing is lost by leaving on the spot.
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: os._exit(0))
    signal.signal(signal.SIGALRM, give_up)
    failures = 0
    while True:
        asked_s = awake_s()
        try:
            sighting = read(host.ask())
            host.clock.check(up_time_in(host.body), interval_s)
            failures = 0
        except Exception as problem:  # whatever a host can do to one poll, the next one may be fine again
            sighting = UNKNOWN
            failures += 1
            wait_s = max(back_off_s(failures, interval_s), getattr(problem, "wait_s", 0) * random.uniform(1, 1.1))
            # Only the name of a problem that is not ours: its text may quote the key.
            reason = problem if isinstance(problem, BadStatus) else type(problem).__name__
            print(f"no usable answer: {reason}", file=sys.stderr, flush=True)
        if not failures and awake_s() - asked_s > timeout_s:
            host.forget()  # we slept while we asked: what was read is old, so ask again at once
            continue
        try:
            print(json.dumps(sighting), flush=True)
        except BrokenPipeError:  # nobody reads any more
            os._exit(0)
        # To the next multiple of the interval: a slow answer must not change the rhythm.
        time.sleep(wait_s if failures else interval_s - (awake_s() - asked_s) % interval_s)


def give_up(*_):
    """Ends a request that takes too long, wherever it is waiting."""
    raise TimeoutError


if __name__ == "__main__":
    main()
