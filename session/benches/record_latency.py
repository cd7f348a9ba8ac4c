"""What `coldbed record` adds to each answer: the same requests through it and directly, in turns, in one run.

Usage: record_latency.py COLDBED [REQUESTS]

COLDBED is a release build (cargo build --release). Python's standard library only. All on loopback, each way on a
connection of its own that is kept. What is printed are medians and 99th percentiles in microseconds; nothing is
asserted, since times differ from machine to machine. The difference of the medians is what a watcher waits longer.
"""

import http.client
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.parse

# Before it counts: connections are made, files opened, caches filled.
WARM_UP = 200


def started(command):
    """Starts a command that serves; gives it with its address."""
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    line = process.stdout.readline()
    assert "http://" in line, f"{command}: {line}"
    return process, urllib.parse.urlsplit(line[line.index("http://"):].strip()).netloc


def ask(connection):
    """Gives how long an answer takes to be whole, in microseconds."""
    began = time.perf_counter_ns()
    connection.request("GET", "/printer")
    answer = connection.getresponse()
    body = answer.read()
    took = (time.perf_counter_ns() - began) / 1000
    assert answer.status == 200 and body, answer.status
    return took


def row(name, times):
    ordered = sorted(times)
    print(f"{name:10} median {statistics.median(ordered):8.0f} µs   99 % {ordered[len(ordered) * 99 // 100]:8.0f} µs")


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    coldbed, count = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 2000
    with tempfile.TemporaryDirectory() as folder:
        session = pathlib.Path(folder) / "session.jsonl"
        host, address = started([coldbed, "serve", "printing", "--from", "1h", "--listen", "127.0.0.1:0"])
        recorder, through = started([coldbed, "record", "--upstream", f"http://{address}", "--to", str(session),
                                     "--listen", "127.0.0.1:0"])
        try:
            ways = {name: http.client.HTTPConnection(at, timeout=10)
                    for name, at in (("directly", address), ("recorded", through))}
            times = {name: [] for name in ways}
            for turn in range(WARM_UP + count):
                for name, connection in ways.items():
                    took = ask(connection)
                    if turn >= WARM_UP:
                        times[name].append(took)
        finally:
            recorder.terminate()
            host.terminate()
            recorder.wait()
            host.wait()
        lines = session.read_text(encoding="utf-8").count("\n")
    for name, own in times.items():
        row(name, own)
    added = statistics.median(times["recorded"]) - statistics.median(times["directly"])
    print(f"added      median {added:8.0f} µs   ({count} requests each way, {lines} lines written)")


if __name__ == "__main__":
    main()
