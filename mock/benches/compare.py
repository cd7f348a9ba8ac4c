#!/usr/bin/env python3
"""Sets a simulated day beside a plain Python loop and scipy's adaptive solver, in one run.

Usage: compare.py COMMAND [ARG...]

COMMAND is `cargo bench -p coldbed-mock --bench simulated_day -- --output-format bencher`. Needs numpy
and scipy, as pinned in tests/external/requirements.txt.

The day is that of `plant_and_controller_day` in simulated_day.rs: two heaters from 25 °C to 210 and
60 °C under PI control, 24 hours. All ways must spend the same energy, or the times mean nothing; the
loop does the very same arithmetic, the solver lets the controller act at every moment instead of
every 0.1 s. So the solver may step over hours in which nothing happens, as no host with readings, noise
and protection can; one more line says what it costs when it has to stop at every control period too.
Times are typical ones (criterion's estimate, the median here) and go with the machine and its load.
"""

import math
import re
import statistics
import subprocess
import sys
import time

from scipy import integrate

DAY_S, PERIOD_S, ROOM_CELSIUS = 86_400, 0.1, 25.0
# Capacity J/K, loss W/K, full power W, target °C, gain W/K, integral time s: as in simulated_day.rs.
HEATERS = [(20.0, 0.12, 40.0, 210.0, 2.5, 32.0), (700.0, 1.6, 180.0, 60.0, 70.0, 40.0)]


def python_loop(seconds=DAY_S):
    """Runs the day in plain Python, local variables only; gives the energy of each heater in J."""
    (_, _, max1, target1, gain1, ti1), (_, _, max2, target2, gain2, ti2) = HEATERS
    (keep1, rise1), (keep2, rise2) = [
        (math.exp(-loss / capacity * PERIOD_S), -math.expm1(-loss / capacity * PERIOD_S) / loss)
        for capacity, loss, *_ in HEATERS
    ]
    x1 = x2 = joules1 = joules2 = 0.0
    sum1, sum2 = gain1 * target1, gain2 * target2
    share1, share2 = gain1 / ti1 * PERIOD_S, gain2 / ti2 * PERIOD_S
    for _ in range(round(seconds / PERIOD_S)):
        y1 = ROOM_CELSIUS + x1
        error1, watts1 = target1 - y1, sum1 - gain1 * y1
        if watts1 > max1:
            watts1 = max1
            if error1 <= 0.0:
                sum1 += share1 * error1
        elif watts1 >= 0.0:
            sum1 += share1 * error1
        else:
            watts1 = 0.0
            if error1 >= 0.0:
                sum1 += share1 * error1
        y2 = ROOM_CELSIUS + x2
        error2, watts2 = target2 - y2, sum2 - gain2 * y2
        if watts2 > max2:
            watts2 = max2
            if error2 <= 0.0:
                sum2 += share2 * error2
        elif watts2 >= 0.0:
            sum2 += share2 * error2
        else:
            watts2 = 0.0
            if error2 >= 0.0:
                sum2 += share2 * error2
        x1 = keep1 * x1 + rise1 * watts1
        x2 = keep2 * x2 + rise2 * watts2
        joules1 += watts1 * PERIOD_S
        joules2 += watts2 * PERIOD_S
    return joules1, joules2


def adaptive(method, seconds=DAY_S):
    """Runs the day with a solver that picks its own steps; the controller is continuous.

    State: temperature above the room, integral and energy of each heater.
    """

    def rates(_, state):
        out = []
        for at, (capacity, loss, most, target, gain, ti) in zip((0, 3), HEATERS, strict=True):
            x, integral = state[at], state[at + 1]
            error = target - ROOM_CELSIUS - x
            asked = integral - gain * (ROOM_CELSIUS + x)
            watts = min(max(asked, 0.0), most)
            outwards = (asked > most and error > 0.0) or (asked < 0.0 and error < 0.0)
            out += [(watts - loss * x) / capacity, 0.0 if outwards else gain / ti * error, watts]
        return out

    start = [value for _, _, _, target, gain, _ in HEATERS for value in (0.0, gain * target, 0.0)]
    solution = integrate.solve_ivp(rates, (0, seconds), start, method=method, rtol=1e-6, atol=1e-6)
    assert solution.success, solution.message
    return (solution.y[2, -1], solution.y[5, -1]), len(solution.t) - 1, solution.nfev


def sampled(seconds):
    """Runs part of the day with a solver that is started anew for each control period."""
    integrals = [gain * target for _, _, _, target, gain, _ in HEATERS]
    x, watts = [0.0, 0.0], [0.0, 0.0]

    def rates(_, x):
        return [
            (power - loss * above) / capacity
            for above, power, (capacity, loss, *_) in zip(x, watts, HEATERS, strict=True)
        ]

    for _ in range(round(seconds / PERIOD_S)):
        for index, (_, _, most, target, gain, ti) in enumerate(HEATERS):
            error = target - ROOM_CELSIUS - x[index]
            asked = integrals[index] - gain * (ROOM_CELSIUS + x[index])
            watts[index] = min(max(asked, 0.0), most)
            if not ((asked > most and error > 0.0) or (asked < 0.0 and error < 0.0)):
                integrals[index] += gain / ti * PERIOD_S * error
        x = integrate.solve_ivp(rates, (0, PERIOD_S), x, rtol=1e-6, atol=1e-6).y[:, -1]


def timed(run, times=5):
    """Gives the median time of a few runs, ms, and what the last one gave."""
    spans, result = [], None
    for _ in range(times):
        begin = time.perf_counter()
        result = run()
        spans.append(time.perf_counter() - begin)
    return statistics.median(spans) * 1e3, result


def ours(command):
    """Runs the benchmarks; gives their times in ms by name, and the energies of the day."""
    text = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout
    bench = re.compile(r"^test (\S+) \.\.\. bench: +([\d,]+) ns/iter", re.M)
    times = {name: int(ns.replace(",", "")) / 1e6 for name, ns in bench.findall(text)}
    joules = [float(value) for value in re.findall(r"^heater \d: joules (\S+)", text, re.M)]
    if "day/plant-and-controller" not in times or len(joules) != 2:
        raise SystemExit("compare.py: the command does not print the benchmarks of a day")
    return times, joules


def main():
    command = sys.argv[1:]
    if not command or command[0] in ("-h", "--help"):
        print(__doc__)
        return 0 if command else 2
    times, joules = ours(command)
    loop_ms, loop_joules = timed(python_loop)
    rows = [
        ("plant and controllers (ours)", times["day/plant-and-controller"], joules, ""),
        ("the same in a plain Python loop", loop_ms, loop_joules, ""),
    ]
    for method in ("RK45", "LSODA"):
        ms, (energy, steps, calls) = timed(lambda method=method: adaptive(method))
        remark = f"{steps} steps, {calls} calls"
        rows.append((f"solve_ivp, {method}, continuous control", ms, energy, remark))
    part_s = 60
    ms, _ = timed(lambda: sampled(part_s))
    remark = f"a minute took {ms:.0f} ms, scaled"
    rows.append(("solve_ivp, RK45, control every 0.1 s", ms * DAY_S / part_s, None, remark))
    for name in ("day/simulation", "day/simulation-without-noise"):
        if name in times:
            rows.append((f"{name} (ours)", times[name], None, "the whole printer, does more"))

    base_ms = rows[0][1]
    print(f"{'one day of two heaters':40} {'ms':>11} {'of ours':>10}  energy J")
    same = True
    for label, ms, energy, remark in rows:
        shown = [] if energy is None else [f"{energy[0]:.1f} {energy[1]:.1f}"]
        print(f"{label:40} {ms:11.2f} {ms / base_ms:9.2f}x  {'; '.join([*shown, *filter(None, [remark])])}")
        # The loop's coefficients are rounded otherwise: 1e-9. A controller that acts every 0.1 s and
        # not at every moment is late by at most a period at full power: 4 and 18 J.
        if energy is not None:
            solver = label.startswith("solve_ivp")
            allowed = (4.0, 18.0) if solver else (1e-9 * joules[0], 1e-9 * joules[1])
            same &= all(
                abs(theirs - own) <= most
                for theirs, own, most in zip(energy, joules, allowed, strict=True)
            )
    for name, ms in times.items():
        if name.startswith("jump/"):
            print(f"{name + ' (ours)':40} {ms:11.2f}")
    print("same energy everywhere" if same else "NOT the same energy everywhere: the times mean nothing")
    return 0 if same else 1


if __name__ == "__main__":
    sys.exit(main())
