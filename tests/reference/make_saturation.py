"""Writes src/trade/saturation/table.rs: saturation pressures of the ten refrigerants.

Run from the top of the project, in an environment with tests/reference/requirements.txt:

    python tests/reference/make_saturation.py > src/trade/saturation/table.rs
"""

import math

import CoolProp

from fluids import FLUIDS, kelvin, pressure, state

STEP = 5
USUAL = (-70, 140)
# Carbon dioxide is solid below -69.8 °F and has no saturation above 87.8 °F.
RANGES = {"R-744": (-65, 85)}


def column(name, quality):
    fluid = state(name)
    lowest, highest = RANGES.get(name, USUAL)
    return [
        math.log(pressure(fluid, quality, kelvin(fahrenheit)))
        for fahrenheit in range(lowest, highest + 1, STEP)
    ]


def written(values):
    lines = []
    for start in range(0, len(values), 8):
        chunk = ", ".join(f"{value:.7f}" for value in values[start : start + 8])
        lines.append(f"    {chunk},")
    return "\n".join(lines)


def main():
    print("//! Natural logarithms of saturation pressures in pascals.")
    print("//!")
    print(f"//! Made by tests/reference/make_saturation.py with CoolProp {CoolProp.__version__}")
    print(f"//! (HEOS); do not edit. One value each {STEP} °F, from the lowest temperature up.")
    print()
    print("/// Temperature of the first value, °F.")
    print(f"pub(super) const LOWEST: f64 = {USUAL[0]}.0;")
    print("/// Temperature of the first value for R-744, °F.")
    print(f"pub(super) const LOWEST_R744: f64 = {RANGES['R-744'][0]}.0;")
    print("/// Distance of the values, °F.")
    print(f"pub(super) const STEP: f64 = {STEP}.0;")
    for name in FLUIDS:
        bubble, dew = column(name, 0), column(name, 1)
        same = max(abs(one - other) for one, other in zip(bubble, dew)) < 1e-6
        symbol = name.replace("-", "").upper()
        for side, values in [("BUBBLE", bubble), ("DEW", dew)]:
            if same and side == "DEW":
                continue
            print()
            print("#[rustfmt::skip]")
            print(f"pub(super) const {symbol}_{side}: &[f64] = &[")
            print(written(values))
            print("];")


main()
