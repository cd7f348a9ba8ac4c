"""Judges every correct watcher of tests/watchers again and again, several at once, and tells what the
catalogue said each time. Not one of them may be accused, however busy the machine is.

Usage: fairness.py COMMAND ROUNDS AT_ONCE [WATCHER…]
  COMMAND  the command that starts coldbed
  ROUNDS   how often each watcher is judged
  AT_ONCE  how many whole catalogues run at a time; two on two cores are a loaded machine already

Reports of runs in which anything was accused or unsteady are kept in target/fairness.
Ends with 1 if a watcher was accused of anything. Twenty rounds take hours: this is no part of run.sh.
"""

import collections
import concurrent.futures
import json
import pathlib
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
KEPT = HERE.parent / "target/fairness"
INTERVAL = "0.4s"
ARGUMENTS = ["{url}", "{key}", "{interval}", "{authority}"]


def built(source, command, folder):
    program = str(pathlib.Path(folder) / source.stem)
    subprocess.run([*command, str(source), "-o", program, "-lcurl", "-lcjson", "-lm"], check=True)
    return program


def watchers(folder):
    """Gives what runs each watcher, and with which flags it is judged."""
    at = HERE / "watchers"
    c = built(at / "c/watch.c", ["cc", "-O1", "-std=c11"], folder)
    rust = HERE.parent / "target/watchers-rust/debug/correct"
    own = {
        "python": ["python3", str(at / "python/watch.py")],
        "node": ["node", str(at / "node/watch.mjs")],
        "shell": ["sh", str(at / "shell/watch.sh")],
        "c": [c],
    }
    if rust.exists():  # The end-to-end tests build it.
        own["rust"] = [str(rust)]
    own = {name: ["--interval", INTERVAL, "--", *words, *ARGUMENTS] for name, words in own.items()}
    senml = ["python3", str(at / "python/watch_senml.py"), *ARGUMENTS]
    senml = ["--dialect", "senml", "--interval", INTERVAL, "--", *senml]
    return {"reference": [], **own, "senml": senml}


def judged(command, name, number, flags):
    """Judges a watcher once. Gives its name, the exit status, how long it took in s, and the checks by
    outcome."""
    KEPT.mkdir(parents=True, exist_ok=True)
    page = KEPT / f"{name}-{number}.html"
    reports = ["--report", "json=-", "--report", f"html={page}"]
    began = time.monotonic()
    ended = subprocess.run([command, "check", *reports, *flags], capture_output=True, text=True)
    took = time.monotonic() - began
    outcomes = collections.defaultdict(list)
    try:
        for check in json.loads(ended.stdout)["checks"]:
            outcomes[check["outcome"]].append(check)
    except (ValueError, KeyError) as error:
        page.with_suffix(".err").write_text(ended.stderr)
        print(f"  no report ({error}): {page.with_suffix('.err')}", flush=True)
    if outcomes.get("unsteady") or outcomes.get("failed"):
        page.with_suffix(".json").write_text(ended.stdout)
    else:
        page.unlink(missing_ok=True)
    return name, ended.returncode, took, outcomes


def main():
    command, rounds, at_once, *only = sys.argv[1:]
    accused = collections.Counter()
    runs = collections.Counter()
    unsteady = collections.Counter()
    with tempfile.TemporaryDirectory() as folder:
        all_of_them = watchers(folder)
        names = only or list(all_of_them)
        with concurrent.futures.ThreadPoolExecutor(int(at_once)) as pool:
            tasks = [
                pool.submit(judged, command, name, number, all_of_them[name])
                for number in range(1, int(rounds) + 1)
                for name in names
            ]
            for task in concurrent.futures.as_completed(tasks):
                name, status, took, outcomes = task.result()
                runs[name] += 1
                counts = {outcome: len(checks) for outcome, checks in sorted(outcomes.items())}
                print(f"{name} {runs[name]}: exit {status}, {took:.0f} s, {counts}", flush=True)
                for check in outcomes.get("unsteady", []):
                    unsteady[check["id"]] += 1
                    print(f"  unsteady {check['id']}", flush=True)
                for check in outcomes.get("failed", []):
                    print(f"  ACCUSED of {check['id']}", flush=True)
                # A run that gave no report proves nothing.
                if status != 0 or not outcomes.get("passed"):
                    accused[name] += 1
    print(f"runs: {dict(runs)}")
    print(f"unsteady: {dict(unsteady)}")
    print(f"accused, or without a report: {dict(accused)}")
    return 1 if accused else 0


if __name__ == "__main__":
    sys.exit(main())
