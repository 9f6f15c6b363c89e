"""Writes random states with the values that two open libraries give for them, as JSON.

    python tests/reference/make_states.py OUTPUT [STATES] [SEED]

Moist air from PsychroLib (ASHRAE Fundamentals 2017) and from CoolProp (real-gas humid air);
saturation of the ten refrigerants, both ways and on both sides, from CoolProp.
"""

import importlib.metadata
import json
import random
import sys

import CoolProp
import psychrolib
from CoolProp.CoolProp import HAPropsSI

from fluids import FLUIDS, kelvin, pair_models, pressure, state, temperature

# The ranges of the job: a cold freezer on a mountain to a hot kitchen at the sea.
AIR_FAHRENHEIT = (-40, 120)
AIR_PASCALS = (69_000, 106_000)
AIR_HUMIDITY = (0.02, 1.0)
SATURATION_FAHRENHEIT = (-50, 60)


def air_states(count, chance):
    psychrolib.SetUnitSystem(psychrolib.SI)
    states = []
    for _ in range(count):
        t = kelvin(chance.uniform(*AIR_FAHRENHEIT))
        humidity = chance.uniform(*AIR_HUMIDITY)
        p = chance.uniform(*AIR_PASCALS)
        celsius = t - 273.15
        ratio = psychrolib.GetHumRatioFromRelHum(celsius, humidity, p)
        real = ("T", t, "R", humidity, "P", p)
        states.append(
            {
                "temperature": t,
                "humidity": humidity,
                "pressure": p,
                "psychrolib": {
                    "density": psychrolib.GetMoistAirDensity(celsius, ratio, p),
                    "humidity_ratio": ratio,
                    "dew_point": psychrolib.GetTDewPointFromRelHum(celsius, humidity) + 273.15,
                },
                "coolprop": {
                    "density": 1.0 / HAPropsSI("Vha", *real),
                    "humidity_ratio": HAPropsSI("W", *real),
                    "dew_point": HAPropsSI("D", *real),
                },
            }
        )
    return states


def saturation_states(name, count, chance):
    fluid = state(name)
    pressures, temperatures, failed = [], [], 0
    low, high = (kelvin(each) for each in SATURATION_FAHRENHEIT)
    limits = [(pressure(fluid, side, low), pressure(fluid, side, high)) for side in (0, 1)]
    for _ in range(count):
        side = chance.choice((0, 1))
        t = chance.uniform(low, high)
        p = chance.uniform(*limits[side])
        pressures.append([side, t, pressure(fluid, side, t)])
        try:
            temperatures.append([side, p, temperature(fluid, side, p)])
        except ValueError:
            failed += 1
    return {
        "model": FLUIDS[name][1],
        "pairs": pair_models(name),
        "pressures": pressures,
        "temperatures": temperatures,
        "failed": failed,
    }


def main():
    output = sys.argv[1]
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 2_500
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else random.randrange(2**32)
    chance = random.Random(seed)
    states = {
        "seed": seed,
        "coolprop": CoolProp.__version__,
        "psychrolib": importlib.metadata.version("PsychroLib"),
        "air": air_states(count, chance),
        "saturation": {name: saturation_states(name, count, chance) for name in FLUIDS},
    }
    with open(output, "w", encoding="utf-8") as file:
        json.dump(states, file)


main()
