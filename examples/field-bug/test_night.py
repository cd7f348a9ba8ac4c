"""The night of docs/field-bug.md: what is left of it stays a test.

Needs the `coldbed` command, in the path or named by COLDBED. Run with `pytest`.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
COLDBED = os.environ.get("COLDBED", "coldbed")
SMALL = HERE / "night.small.jsonl"


def lines_of(program, count=3):
    """Runs a display against what is left of the night. Gives the first lines that it shows, fewer if it
    ends before."""
    replay = [COLDBED, "replay", SMALL, "--match", "in-order", "--listen", "127.0.0.1:0"]
    with subprocess.Popen(replay, stdout=subprocess.PIPE, text=True) as host:
        url = host.stdout.readline().removeprefix("listening on ").strip()
        command = [sys.executable, HERE / program, url, "a-key", "0.1"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as display:
            shown = [line.strip() for line, _ in zip(display.stdout, range(count))]
            display.kill()
        host.terminate()
    return shown


def test_a_sensor_that_says_nothing_is_shown_as_unknown_and_the_display_lives():
    assert lines_of("shelf_display.py") == ["?, a job ? %, extruder ? of ? °C"] * 3


def test_as_it_was_the_display_ended():
    assert lines_of("as_it_was.py") == []


def test_what_was_recorded_shrinks_to_what_is_kept(tmp_path):
    small = tmp_path / "small.jsonl"
    command = [sys.executable, HERE / "as_it_was.py", "{url}", "{key}", "0.1"]
    shrink = [COLDBED, "shrink", HERE / "night.jsonl", "--to", small, "--output", "TypeError", "--"]
    subprocess.run([*shrink, *command], check=True, timeout=300)

    def told(file):
        lines = [json.loads(line) for line in file.read_text().splitlines()]
        return [line["body"] for line in lines if line["line"] == "answer"]

    assert told(small) == told(SMALL) == [{"text": '{"heaters":{"extruder":{"actual-celsius":null}}}'}]
