#!/usr/bin/env python3
"""Holds the thermal core against other people's code and against radiation.

Usage: temperature_lab.py COMMAND [ARG...]

COMMAND prints the CSV of `cargo run -p coldbed-mock --example temperature_lab`. Needs what
requirements.txt beside this file pins. One line a check; exit code 0 if all hold, 1 if one does not,
2 if the command gives no such CSV.

Every tolerance is worked out, none is tuned. Ours is the exact solution for powers held over a
control period of 0.1 s (a zero-order hold), so where the input is held too, what may differ is
rounding (EXACT_KELVIN) and the other side's own error, which is computed from its step. Where the
input moves within a period, the hold itself differs, by a bound that the check derives.

What agrees here is arithmetic: it proves nothing about a real heater being safe to leave alone.
"""

import contextlib
import csv
import io
import subprocess
import sys
from collections import defaultdict

import numpy as np
import tclab
from scipy import integrate, linalg, optimize, signal

PERIOD_S = 0.1
ROW_S = 1.0
# Rounding: the CSV has nine places (5e-10), and 12 000 steps of five products of numbers up to 100
# in doubles (unit roundoff 1.1e-16) lose at most 12 000 * 5 * 100 * 1.1e-16 = 6.6e-10.
EXACT_KELVIN = 1.2e-9
# Local tolerance of the adaptive solver, relative and absolute.
SOLVER = 1e-10
COLUMNS = ["H1", "H2", "T1", "T2"]


class Report:
    """Prints a line a check and counts."""

    def __init__(self):
        self.passed = self.failed = 0

    def check(self, claim, difference, allowed, source):
        """Holds the largest difference to what is allowed; arrays are compared place by place."""
        difference = np.abs(np.asarray(difference, dtype=float))
        allowed = np.broadcast_to(np.asarray(allowed, dtype=float), difference.shape)
        tightest = np.unravel_index(np.argmax(difference / allowed), difference.shape)
        # Written so that a difference that is no number fails.
        holds = bool(np.all(difference <= allowed))
        self.passed += holds
        self.failed += not holds
        print(
            f"{'ok  ' if holds else 'FAIL'} {claim}: off by {difference.max():.2e} K at most; where it"
            f" is tightest {difference[tightest]:.2e} of {allowed[tightest]:.2e} K allowed [{source}]"
        )

    def note(self, text):
        print(f"note {text}")


class Linear:
    """x' = A x + B u, x in K above the room, u in percent: H1, H2 and, if they lag, T1, T2."""

    def __init__(self, a, b):
        self.a, self.b = np.array(a), np.array(b)
        self.states, self.inputs = self.b.shape

    def held(self, percents, dt_s):
        """Gives the states at each row for inputs held over the row, by one matrix exponential.

        Source: scipy.linalg.expm; zero-order hold by the exponential of [[A, B], [0, 0]],
        Van Loan 1978 (from memory).
        """
        both = np.zeros((self.states + self.inputs,) * 2)
        both[: self.states] = np.hstack([self.a, self.b])
        step = linalg.expm(both * dt_s)[: self.states]
        x = [np.zeros(self.states)]
        for u in percents[:-1]:
            x.append(step @ np.concatenate([x[-1], u]))
        return np.array(x)

    def rest(self, u):
        """Gives where constant inputs lead."""
        return -np.linalg.solve(self.a, self.b @ u)


def simulator():
    """Gives the equations of the simulator in the package tclab.

    Source: tclab 1.0.0, `TCLabModel.update`, read off once more here.
    """
    loss, between, lag = 1 / 20, 1 / 100, 1 / 140
    a = [
        [-loss - between, between, 0, 0],
        [between, -loss - between, 0, 0],
        [lag, 0, -lag, 0],
        [0, lag, 0, -lag],
    ]
    return Linear(a, [[200 / 5720, 0], [0, 100 / 5720], [0, 0], [0, 0]])


SIMULATOR_ROOM_CELSIUS = 21.0


def run_tclab(percents, max_step_s):
    """Lets the package's own simulator run; its noise and rounding are in its readings, not its state.

    Source: tclab 1.0.0, `TCLabModel` (Euler's method).
    """
    with contextlib.redirect_stdout(io.StringIO()):
        model = tclab.TCLabModel(synced=False)
    model.tlast = 0.0
    model.maxstep = max_step_s
    rows = []
    for second, (q1, q2) in enumerate(percents):
        rows.append([model._H1, model._H2, model._T1, model._T2])
        model.Q1(q1)
        model.Q2(q2)
        model.update(second + 1.0)
    return np.array(rows)


def euler_bound(system, x, percents, step_s):
    """Gives the most that Euler's method can be off at any time, per state.

    Each step loses at most h^2/2 |x''|, and later steps let none of it grow: the method's matrix
    I + hA has no entry below 0, and the sum of its powers is (-hA)^-1. So h/2 (-A)^-1 max |x''|.
    Between two rows |x''| grows by at most the exponential of what is off A's diagonal.
    """
    assert np.all(np.eye(system.states) + step_s * system.a >= 0)
    second = np.abs((x @ system.a.T + percents @ system.b.T) @ system.a.T).max(axis=0)
    off_diagonal = system.a - np.diag(np.diag(system.a))
    second = linalg.expm(off_diagonal * ROW_S) @ second
    return step_s / 2 * np.linalg.solve(-system.a, second)


def solve(rates, start, times, pieces):
    """Integrates with scipy's solve_ivp, anew after each jump of the input.

    Gives the states and a bound of their error: the sum of the local errors, of which these
    systems, all of whose differences decay, let none grow.
    """
    rows, steps = [np.array(start, dtype=float)], 0
    for begin, end in pieces:
        at = times[(times > begin) & (times <= end)]
        # A step a row, so that the error is controlled at each row and not only interpolated.
        for row_begin, row_end in zip([begin, *at[:-1]], at, strict=True):
            # Half a row into the piece, so that the input is that of the piece.
            middle = (row_begin + row_end) / 2
            solution = integrate.solve_ivp(
                lambda t, x, middle=middle: rates(t, middle, x),
                (row_begin, row_end),
                rows[-1],
                method="DOP853",
                rtol=SOLVER,
                atol=SOLVER,
            )
            steps += len(solution.t) - 1
            rows.append(solution.y[:, -1])
    rows = np.array(rows)
    return rows, steps * SOLVER * (1 + np.abs(rows).max())


def check_simulator(report, name, rows):
    """Holds one program of held inputs against three ways to the same curve."""
    system, percents = simulator(), rows["Q"]
    ours = rows["X"] - SIMULATOR_ROOM_CELSIUS
    exact = system.held(percents, ROW_S)
    report.check(f"{name}: as by matrix exponential", ours - exact, EXACT_KELVIN, "scipy.linalg.expm")

    jumps = [0, *(np.flatnonzero(np.any(np.diff(percents, axis=0) != 0, axis=1)) + 1)]
    pieces = list(zip(jumps, [*jumps[1:], len(percents) - 1], strict=True))

    def held(_, middle, x):
        return system.a @ x + system.b @ percents[int(middle)]

    solved, error = solve(held, np.zeros(4), rows["t"], pieces)
    report.check(
        f"{name}: as by adaptive solver", ours - solved, EXACT_KELVIN + error,
        "scipy.integrate.solve_ivp, DOP853, tolerance 1e-10",
    )

    coarse = run_tclab(percents, 0.2) - SIMULATOR_ROOM_CELSIUS
    report.check(
        f"{name}: as the simulator at its own step of 0.2 s, but for Euler's error",
        ours - coarse, EXACT_KELVIN + euler_bound(system, exact, percents, 0.2), "tclab 1.0.0",
    )
    # Euler's error is a power series in the step, so twice the finer less the coarser takes its
    # first term away (Richardson). What is left is a third of the change from one such pair to the
    # next; the whole change is allowed.
    fine = [run_tclab(percents, step_s) - SIMULATOR_ROOM_CELSIUS for step_s in (0.02, 0.01, 0.005)]
    before, last = 2 * fine[1] - fine[0], 2 * fine[2] - fine[1]
    # 240 steps a row of numbers up to 100 in doubles: 1200 * 240 * 100 * 1.1e-16 = 3.2e-9.
    rounding = EXACT_KELVIN + 3.2e-9
    report.check(
        f"{name}: as the simulator with its step taken to 0",
        ours - last, rounding + np.abs(last - before).max(axis=0), "tclab 1.0.0, steps to 0.005 s",
    )


def check_ramp(report, rows):
    """Holds a moving input, which the control period holds still, against the moving one."""
    system = simulator()
    slope = np.array([1 / 12, -1 / 12])
    ours = rows["X"] - SIMULATOR_ROOM_CELSIUS

    def moving(late_s):
        start = np.array([0.0, 100.0]) - slope * late_s
        return lambda t, _, x: system.a @ x + system.b @ (start + slope * t)

    whole = [(0, len(rows["t"]) - 1)]
    # The held input is behind by 0 to h times the slope. More input nowhere means less heat, so the
    # states are behind by at most what a constant input of that size comes to.
    solved, error = solve(moving(0.0), np.zeros(4), rows["t"], whole)
    hold = np.maximum(
        system.rest(np.maximum(slope, 0)), system.rest(np.maximum(-slope, 0))
    ) * PERIOD_S
    report.check(
        "ramp: a moving input is held for 0.1 s and no longer", ours - solved,
        EXACT_KELVIN + error + hold, "scipy.integrate.solve_ivp; zero-order hold bound",
    )
    # On average it is behind by h/2. Against an input that late, what is left has no mean, and its
    # integral stays below h^2/8 times the slope; a response g that rises once and falls once lets
    # through at most 3 max g of that (one for its start, two for its way up and down).
    solved, error = solve(moving(PERIOD_S / 2), np.zeros(4), rows["t"], whole)
    times = np.arange(0, 1200, 0.1)
    peak = sum(
        np.abs(signal.impulse((system.a, system.b[:, [u]], np.eye(4)[[y]], 0), T=times)[1]).max()
        * np.eye(4)[y] for u in range(2) for y in range(4)
    )
    report.check(
        "ramp: on average the hold is half a period late", ours - solved,
        EXACT_KELVIN + error + 3 * peak * PERIOD_S**2 / 8 / 12,
        "scipy.integrate.solve_ivp; second-order hold bound",
    )


class EnergyBalance:
    """The device with radiation, two bodies.

    Source: BYU temperature control lab, course pages, energy balance (values from memory): m, Cp, A,
    As, U, emissivity, alpha1, alpha2, Ta.
    """

    CAPACITY, AREA, BETWEEN, U, EMITTED = 0.004 * 500, 1e-3, 2e-4, 10.0, 0.9 * 5.67e-8
    WATTS_PER_PERCENT = np.array([0.01, 0.0075])
    ROOM_CELSIUS = 23.0
    OPERATING_CELSIUS = np.array([73.921, 32.183])

    def flow(self, area, one_celsius, other_celsius):
        """Gives the heat from one to the other, W."""
        fourth_powers = (one_celsius + 273.15) ** 4 - (other_celsius + 273.15) ** 4
        return area * (self.U * (one_celsius - other_celsius) + self.EMITTED * fourth_powers)

    def flows(self, celsius):
        """Gives the losses of both and the heat from 1 to 2, W."""
        one, other = celsius
        return np.array([
            self.flow(self.AREA, one, self.ROOM_CELSIUS),
            self.flow(self.AREA, other, self.ROOM_CELSIUS),
            self.flow(self.BETWEEN, one, other),
        ])

    @staticmethod
    def differences(celsius, room_celsius):
        """Gives the temperature differences that drive these flows, K."""
        one, other = celsius
        return np.array([one - room_celsius, other - room_celsius, one - other])

    def chords(self):
        """Gives the conductances that meet the flows at the operating point, W/K."""
        differences = self.differences(self.OPERATING_CELSIUS, self.ROOM_CELSIUS)
        return self.flows(self.OPERATING_CELSIUS) / differences

    def into(self, flows):
        """Turns the three flows into what each body loses, W."""
        return np.array([flows[0] + flows[2], flows[1] - flows[2]])

    def network(self, conductances):
        one, other, between = np.asarray(conductances) / self.CAPACITY
        a = [[-one - between, between], [between, -other - between]]
        return Linear(a, np.diag(self.WATTS_PER_PERCENT / self.CAPACITY))


def check_energy_balance(report, rows):
    """Says what a network of constant conductances makes of radiation."""
    balance = EnergyBalance()
    chords = balance.chords()
    network = balance.network(chords)
    percents = rows["Q"]
    ours = rows["X"][:, :2] - balance.ROOM_CELSIUS
    report.check(
        "energy balance: as by matrix exponential with the chords of radiation",
        ours - network.held(percents, ROW_S), EXACT_KELVIN, "scipy.linalg.expm",
    )

    # The linear network and the balance differ by d with d' = A d + w/C, where w is what chord and
    # true flow differ by at the balance's own temperatures. A lets nothing change its sign, so |d|
    # stays below the b of b' = A b + |w|/C, which is integrated beside the balance.
    def rates(_, middle, state):
        celsius = state[:2] + balance.ROOM_CELSIUS
        flows = balance.flows(celsius)
        w = np.abs(chords * balance.differences(celsius, balance.ROOM_CELSIUS) - flows)
        power = balance.WATTS_PER_PERCENT * percents[int(middle)]
        x = (power - balance.into(flows)) / balance.CAPACITY
        b = network.a @ state[2:] + np.array([w[0] + w[2], w[1] + w[2]]) / balance.CAPACITY
        return np.concatenate([x, b])

    solved, error = solve(rates, np.zeros(4), rows["t"], [(0, len(rows["t"]) - 1)])
    true, bound = solved[:, :2], solved[:, 2:]
    report.check(
        "energy balance: radiation bends the curve by no more than its chord is off",
        ours - true, EXACT_KELVIN + 2 * error + bound,
        "BYU energy balance by solve_ivp; comparison bound, computed",
    )

    # How much of that better conductances would save. Nothing is asserted of it: there is no source
    # for what it should be. The capacities stay, they are known and linear.
    def off(factors):
        return (balance.network(chords * factors).held(percents, ROW_S) - true).ravel()

    best = optimize.least_squares(off, np.ones(3))
    left = np.abs(best.fun.reshape(-1, 2)).max(axis=0)
    worst, rise = np.abs(ours - true).max(axis=0), true[-1]
    report.note(
        f"energy balance: with the chords T1 is off by at most {worst[0]:.3f} K of a rise of"
        f" {rise[0]:.1f} K and T2 by {worst[1]:.3f} of {rise[1]:.1f}; the conductances that fit best"
        f" (least squares, chords x {', '.join(f'{f:.3f}' for f in best.x)}) leave {left[0]:.3f} and"
        f" {left[1]:.3f} K"
    )


def check_block_and_sensor(report, rows):
    """Holds a block and the sensor that trails it, a system of second order, against scipy.signal."""
    room_celsius = 25.0
    # Capacity J/K, loss W/K, full power W, dead time s, sensor's lag s; our own figures.
    heaters = [(20, 0.12, 40, 4.0, 3.0), (700, 1.6, 180, 0.0, 12.0)]
    for index, (capacity, loss, watts, dead_s, lag_s) in enumerate(heaters):
        a = np.array([[-loss / capacity, 0], [1 / lag_s, -1 / lag_s]])
        b = np.array([[watts / 100 / capacity], [0]])
        ours = rows["X"][:, [index, 2 + index]] - room_celsius
        label = f"block and sensor {index + 1}"

        discrete = signal.cont2discrete((a, b, np.eye(2), np.zeros((2, 1))), PERIOD_S, method="zoh")
        late = round(dead_s / PERIOD_S)
        percents = np.repeat(rows["Q"][:, index], round(ROW_S / PERIOD_S))
        percents = np.concatenate([np.zeros(late), percents])[: len(percents)]
        _, stepped, _ = signal.dlsim(discrete, percents)
        report.check(
            f"{label}: as by its discrete state space", ours - stepped[:: round(ROW_S / PERIOD_S)],
            EXACT_KELVIN, "scipy.signal.cont2discrete (zoh) and dlsim",
        )

        since = rows["t"] - dead_s
        off_s = rows["t"][np.flatnonzero(rows["Q"][:, index] == 0)[0]]
        shares = step_share(since, capacity / loss, lag_s)
        shares -= step_share(since - off_s, capacity / loss, lag_s)
        report.check(
            f"{label}: as by the textbook's two exponentials",
            ours[:, 1] - watts / loss * shares, EXACT_KELVIN,
            "second-order step response, closed form",
        )


def step_share(since_s, long_s, short_s):
    """Gives the share of its final rise that a second-order lag has reached since a step.

    Source: step response for two real time constants, any textbook of process control.
    """
    t = np.maximum(since_s, 0)
    left = long_s * np.exp(-t / long_s) - short_s * np.exp(-t / short_s)
    return 1 - left / (long_s - short_s)


PROGRAMS = {
    "constant": lambda report, rows: check_simulator(report, "constant", rows),
    "both": lambda report, rows: check_simulator(report, "both", rows),
    "steps": lambda report, rows: check_simulator(report, "steps", rows),
    "ramp": check_ramp,
    "energy-balance": check_energy_balance,
    "block-and-sensor": check_block_and_sensor,
}


def read(command):
    """Runs the command and gives its rows by program: times, inputs, temperatures."""
    try:
        text = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout
    except (OSError, subprocess.CalledProcessError) as error:
        raise SystemExit(fail(f"the command gives no CSV: {error}")) from error
    rows = defaultdict(list)
    for row in csv.DictReader(text.splitlines()):
        rows[row["program"]].append([float(row[key]) for key in ["t", "Q1", "Q2", *COLUMNS]])
    if set(rows) != set(PROGRAMS):
        raise SystemExit(fail(f"the CSV has {sorted(rows)}, not {sorted(PROGRAMS)}"))
    tables = {}
    for name, table in rows.items():
        table = np.array(table)
        if not np.array_equal(table[:, 0], np.arange(1201) * ROW_S):
            raise SystemExit(fail(f"{name} is not a row a second for 1200 s"))
        tables[name] = {"t": table[:, 0], "Q": table[:, 1:3], "X": table[:, 3:]}
    return tables


def fail(message):
    print(f"temperature_lab.py: {message}", file=sys.stderr)
    return 2


def main():
    command = sys.argv[1:]
    if not command or command[0] in ("-h", "--help"):
        print(__doc__)
        return 0 if command else 2
    tables, report = read(command), Report()
    for name, check in PROGRAMS.items():
        check(report, tables[name])
    print(f"{report.passed} passed, {report.failed} failed")
    return 1 if report.failed else 0


if __name__ == "__main__":
    sys.exit(main())
