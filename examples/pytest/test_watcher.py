"""A watcher under pytest, in two ways: by the rules of coldbed's catalogue, and with steps of one's own.

Needs the `coldbed` command, in the path or named by COLDBED. Run with `pytest`.
"""

import json
import os
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

import watcher

COLDBED = os.environ.get("COLDBED", "coldbed")
KEY = "a-key-for-tests"
RULES = ["phase-paused", "target-temperature", "null-target-survived"]


def test_the_watcher_keeps_the_rules():
    only = [word for rule in RULES for word in ("--only", rule)]
    command = [sys.executable, str(Path(watcher.__file__)), "{url}", "{key}", "0.2"]
    done = subprocess.run([COLDBED, "check", *only, "--", *command], capture_output=True, text=True)
    # 0: all musts hold; 1: one is violated; anything else is no verdict on the watcher.
    assert done.returncode == 0, done.stdout + done.stderr
    # What a watcher does not report is skipped, so a 0 alone says little.
    passed = [line.split()[1] for line in done.stdout.splitlines() if line.startswith("passed ")]
    assert sorted(passed) == sorted(RULES), done.stdout


class Host:
    """A mock host in a process of its own, with its control API."""

    def __init__(self, scenario, start):
        words = ["serve", scenario, "--from", start, "--rate", "0", "--key", KEY]
        words += ["--listen", "127.0.0.1:0", "--control=127.0.0.1:0"]
        self.process = subprocess.Popen([COLDBED, *words], stdout=subprocess.PIPE, text=True)
        self.url = self.process.stdout.readline().removeprefix("listening on ").strip()
        self.control = self.process.stdout.readline().removeprefix("control on ").strip()

    def change(self, resource, **what):
        body = json.dumps(what).encode()
        headers = {"Content-Type": "application/json"}
        request = urllib.request.Request(self.control + resource, data=body, headers=headers)
        with urllib.request.urlopen(request, timeout=5) as answer:
            return json.load(answer)

    def truth(self):
        with urllib.request.urlopen(self.control + "/truth", timeout=5) as answer:
            return json.load(answer)

    def stop(self):
        self.process.terminate()
        self.process.wait(timeout=10)
        self.process.stdout.close()


@pytest.fixture
def host():
    host = Host("heat-up", "5m")
    yield host
    host.stop()


def test_what_is_seen_is_what_is_true(host):
    seen = watcher.poll(host.url, KEY)
    truth = host.truth()
    assert seen["phase"] == truth["phase"]
    for name, heater in truth["heaters"].items():
        assert seen["heaters"][name]["target-celsius"] == heater["target_celsius"]


def test_a_target_that_is_null_is_unknown_and_all_else_is_still_seen(host):
    host.change("/drifts", pointer="/heaters/extruder/target-celsius", change="replace-by-null")
    seen = watcher.poll(host.url, KEY)
    extruder = seen["heaters"]["extruder"]
    assert (extruder["target-celsius"], extruder["on"]) == (None, None)
    assert seen["heaters"]["platform"]["target-celsius"] > 0
    assert seen["phase"] == "printing"


@pytest.mark.parametrize(
    "fault",
    ["refuse", "login-page", {"status": {"code": 503}}, {"close": {"at": {"body-byte": 20}}}],
    ids=["refused", "log-in page", "busy", "half an answer"],
)
def test_without_an_answer_nothing_is_known(host, fault):
    host.change("/faults", fault=fault)
    assert watcher.poll(host.url, KEY) == {"phase": "unknown"}
