#!/usr/bin/env python3
"""Holds the estimate of growth against scipy, and shows what least squares would say.

Usage: growth_lab.py COMMAND [ARG...]

COMMAND prints the JSON Lines of `cargo run -p coldbed --example growth_lab`. Needs what
requirements.txt beside this file pins. One line a check; exit code 0 if all hold, 1 if one does not,
2 if the command gives no such lines.

Block means, ranks, autocorrelations and the variance's correction are done anew here, with numpy;
median slope and interval are those of scipy.stats.theilslopes, at the level that the correction
comes to. What may differ is rounding.
"""

import json
import subprocess
import sys
from collections import defaultdict

import numpy as np
from scipy import stats

LEVEL = 0.99
BLOCKS = 20
WARM_UP_SHARE = 0.25
# Values of 5e6 in doubles (unit roundoff 1.1e-16), summed over 500 samples, differ by 5e6 * 500 *
# 1.1e-16 = 2.8e-7 at most; over polls that are at least 1 apart that is the slope's error too.
ROUNDING = 3e-7
NAMES = [
    "still", "flat", "flat and slow", "sawtooth", "ragged sawtooth", "slow sawtooth", "warm-up",
    "long warm-up", "late jump", "leak", "leak in slow noise", "leak in steps", "open files",
    "forgotten files",
]
# Where there is no leak, so that "grows" is a false alarm.
HARMLESS = NAMES[:9] + ["open files"]


def block_means(values):
    """Gives the means of 20 blocks as equal as can be, after the warm-up."""
    kept = values[int(np.ceil(len(values) * WARM_UP_SHARE)):]
    edges = [block * len(kept) // BLOCKS for block in range(BLOCKS + 1)]
    return np.array([kept[a:b].mean() for a, b in zip(edges, edges[1:])]), kept


def inflation(residuals):
    """Gives the correction of Hamed and Rao 1998, summed up to the first that is not positive."""
    n = len(residuals)
    ranks = stats.rankdata(residuals)
    ranks -= ranks.mean()
    whole = ranks @ ranks
    if whole == 0:
        return 1.0
    total = 0.0
    for lag in range(1, n - 2):
        rho = ranks[lag:] @ ranks[:-lag] / whole
        if rho <= 0:
            break
        total += (n - lag) * (n - lag - 1) * (n - lag - 2) * rho
    return 1 + 2 * total / (n * (n - 1) * (n - 2))


def reference(run):
    """Gives median slope and interval, as scipy has them."""
    x, kept = block_means(np.array(run["polls"]))
    y, _ = block_means(np.array(run["values"]))
    slope = stats.theilslopes(y, x).slope
    # theilslopes knows no correction of the variance: another level comes to the same (it takes
    # alpha below 0.5 for what is outside).
    wider = stats.norm.ppf((1 + LEVEL) / 2) * np.sqrt(inflation(y - slope * x))
    found = stats.theilslopes(y, x, alpha=2 * stats.norm.sf(wider))
    step = run["resolution"] / (kept[-1] - kept[0])
    return found.slope, found.low_slope - step, found.high_slope + step, len(kept)


def least_squares_low(run):
    """Gives the lower end of the interval of least squares on the same samples."""
    _, x = block_means(np.array(run["polls"]))
    _, y = block_means(np.array(run["values"]))
    line = stats.linregress(x, y)
    return line.slope - stats.t.ppf((1 + LEVEL) / 2, len(x) - 2) * line.stderr


def read(command):
    """Runs the command and gives its runs by series."""
    try:
        text = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout
        runs = [json.loads(line) for line in text.splitlines()]
    except (OSError, ValueError, subprocess.CalledProcessError) as error:
        print(f"growth_lab.py: the command gives no JSON Lines: {error}", file=sys.stderr)
        raise SystemExit(2) from error
    by_name = defaultdict(list)
    for run in runs:
        by_name[run["series"]].append(run)
    if list(by_name) != NAMES:
        print(f"growth_lab.py: the series are {list(by_name)}, not {NAMES}", file=sys.stderr)
        raise SystemExit(2)
    return by_name


def main():
    command = sys.argv[1:]
    if not command or command[0] in ("-h", "--help"):
        print(__doc__)
        return 0 if command else 2
    by_name = read(command)
    passed = failed = 0
    for name, runs in by_name.items():
        worst = 0.0
        counts = True
        for run in runs:
            growth = run["growth"]
            slope, low, high, samples = reference(run)
            ours = [growth["per-poll"], growth["low"], growth["high"]]
            # Written so that a difference that is no number fails.
            off = np.abs(np.array(ours, dtype=float) - [slope, low, high]).max()
            worst = max(worst, off) if off <= ROUNDING else float("inf")
            counts = counts and growth["samples"] == samples and growth["level"] == LEVEL
        holds = worst <= ROUNDING and counts
        passed += holds
        failed += not holds
        print(
            f"{'ok  ' if holds else 'FAIL'} {name}: {len(runs)} runs, off by {worst:.1e} a poll at most,"
            f" {ROUNDING:.0e} allowed [scipy.stats.theilslopes]"
        )
    # The shorter runs see one tooth of a collector, which is a rise to any estimate.
    harmless = [run for name in HARMLESS for run in by_name[name] if len(run["polls"]) == 2000]
    least = sum(least_squares_low(run) > 0 for run in harmless)
    ours = sum(run["growth"]["low"] > 0 for run in harmless)
    print(
        f"note of {len(harmless)} runs of 2000 samples without a leak, growth is found in {ours} by ours and in {least} by"
        " least squares with its t-interval [scipy.stats.linregress]"
    )
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
