"""What is fitted to a heater's readings, held against scipy's least squares on the same readings.

Usage: heater_fit.py COMMAND [ARG…]   which runs the example `heater_fit`

scipy.optimize.curve_fit (Levenberg-Marquardt by MINPACK) fits rise, time constant, dead time and room. Values agree to
a fiftieth of their standard errors. So do standard errors to a fifth: coldbed's grow where what is left hangs together
from reading to reading, which scipy does not look at; this noise does so by chance only.
"""

import subprocess
import sys

import numpy
from scipy.optimize import curve_fit


def curve(at, rise, tau, dead, room):
    passed = numpy.maximum(at - dead, 0.0)
    return room + rise * (1.0 - numpy.exp(-passed / tau))


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    output = subprocess.run(sys.argv[1:], check=True, capture_output=True, text=True).stdout
    readings, parameters = output.strip().split("\n\n")
    at, celsius = numpy.array([line.split(",") for line in readings.splitlines()], dtype=float).T
    values, covariance = curve_fit(curve, at, celsius, p0=[300.0, 150.0, 3.0, 20.0])
    errors = numpy.sqrt(numpy.diag(covariance))
    rows = [line.split(",") for line in parameters.splitlines()]
    if [name for name, *_ in rows] != ["rise", "tau", "dead", "room"]:
        sys.exit(f"other parameters: {rows}")
    for (name, value, error), expected, expected_error in zip(rows, values, errors):
        off = abs(float(value) - expected) / expected_error
        ratio = float(error) / expected_error
        print(f"{name:5} {float(value):9.4f} ± {float(error):.4f}, scipy {expected:9.4f} ± {expected_error:.4f}")
        if off > 0.02 or not 0.8 < ratio < 1.2:
            sys.exit(f"{name}: off by {off:.3f} standard errors, whose ratio is {ratio:.3f}")


if __name__ == "__main__":
    main()
