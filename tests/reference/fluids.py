"""The ten refrigerants as CoolProp knows them, and one saturation call for all of them."""

import CoolProp.CoolProp as coolprop

# Our name, CoolProp's name, and the model behind it in plain words.
FLUIDS = {
    "R-404A": ("R404A", "pseudo-pure equation of state"),
    "R-507A": ("R507A", "pseudo-pure equation of state"),
    "R-448A": ("R448A.mix", "multi-fluid Helmholtz mixture"),
    "R-449A": ("R449A.mix", "multi-fluid Helmholtz mixture"),
    "R-454C": ("R454C.mix", "multi-fluid Helmholtz mixture"),
    "R-455A": ("R455A.mix", "multi-fluid Helmholtz mixture"),
    "R-134a": ("R134a", "pure-fluid equation of state"),
    "R-290": ("Propane", "pure-fluid equation of state"),
    "R-22": ("R22", "pure-fluid equation of state"),
    "R-744": ("CO2", "pure-fluid equation of state"),
}


def kelvin(fahrenheit):
    return (fahrenheit + 459.67) / 1.8


def fahrenheit(kelvin):
    return kelvin * 1.8 - 459.67


def state(name):
    """A CoolProp state of one of our refrigerants; make it once, ask it often."""
    return coolprop.AbstractState("HEOS", FLUIDS[name][0])


def pressure(fluid, quality, temperature):
    """Saturation pressure in Pa at a temperature in K; quality 0 is bubble, 1 is dew."""
    fluid.update(coolprop.QT_INPUTS, quality, temperature)
    return fluid.p()


def temperature(fluid, quality, pressure_pa):
    """Saturation temperature in K at a pressure in Pa."""
    fluid.update(coolprop.PQ_INPUTS, pressure_pa, quality)
    return fluid.T()


def pair_models(name):
    """For a mixture, each pair of components with the departure function it uses."""
    components = state(name).fluid_names()
    numbers = [coolprop.get_fluid_param_string(each, "CAS") for each in components]
    pairs = []
    for one in range(len(components)):
        for other in range(one + 1, len(components)):
            function = departure(numbers[one], numbers[other])
            pair = f"{components[one]}/{components[other]}"
            pairs.append(f"{pair} {function or 'without departure function'}")
    return pairs


def departure(one, other):
    """The departure function of a pair, or None. The library knows a pair in one order only."""
    for pair in [(one, other), (other, one)]:
        try:
            return coolprop.get_mixture_binary_pair_data(*pair, "function")
        except ValueError:
            continue
    return None
