#!/usr/bin/env python3
"""Measures how long the full catalogue takes, beside its longest check: what is lost by waiting for a place.

Usage: catalogue_length.py COMMAND ROUNDS [ARG...]

COMMAND starts coldbed; each ARG is passed on to `check`, such as `--interval 1s -- python3 watch.py {url} {key}`. Without one
the reference watcher is judged. Every round is one line: the length of the whole in s, the longest run of one check in
s with the check, the ratio of the two, the processor time of all processes in s, and how late the machine was at worst in ms.

The longest check waits for something (a Retry-After, a back-off at its cap) and not for the machine. A check that is run
twice, since its result was in doubt, takes twice its length: `twice` counts those.
"""

import json
import resource
import subprocess
import sys
import time


def used_s():
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return children.ru_utime + children.ru_stime


def measured(command, arguments):
    began, used = time.monotonic(), used_s()
    ended = subprocess.run([command, "check", "--report", "json=-", *arguments], capture_output=True, text=True)
    whole_s, used = time.monotonic() - began, used_s() - used
    if ended.returncode not in (0, 1):
        sys.exit(ended.stderr)
    checks = [check for check in json.loads(ended.stdout)["checks"] if check.get("attempts")]
    runs = [(run["took-seconds"], check["id"]) for check in checks for run in check["attempts"]]
    longest_s, name = max(runs)
    late_ms = 1000 * max(run["harness-delay-seconds"] for check in checks for run in check["attempts"])
    twice = sum(len(check["attempts"]) > 1 for check in checks)
    print(
        f"{len(checks)} checks in {whole_s:.1f} s, longest {longest_s:.1f} s ({name}), ratio {whole_s / longest_s:.2f}, "
        f"processor {used:.1f} s, late by {late_ms:.0f} ms, twice {twice}",
        flush=True,
    )


def main():
    command, rounds, *arguments = sys.argv[1:]
    for _ in range(int(rounds)):
        measured(command, arguments)


if __name__ == "__main__":
    main()
