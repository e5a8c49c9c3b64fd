"""Heat from gas to walls: Nusselt numbers, effectiveness, gas radiation, a glowing plate.

Plain functions of float64 arrays in SI units; nothing is masked, the models that use them say
where they hold.
"""

from typing import Annotated

import numpy as np

from models.arrays import Array, polynomial

STEFAN_BOLTZMANN = 5.670374419e-8
"""Stefan-Boltzmann constant, W/(m2 K4) (CODATA 2018)."""

NUSSELT_TUBE = 3.66
"""Laminar flow far down a round tube of one wall temperature (Graetz)."""

NUSSELT_PARALLEL_PLATES = 7.54
"""The same between parallel plates, on twice the gap (Shah and London 1978)."""

# Smith, Shen and Friedman 1982: absorption coefficients, 1/(atm m), and the weights of the three
# grey gases in powers of T; steam to carbon dioxide 1.5 in products of ethanol, so each is the
# mean of the published sets for 1 and for 2.
_ABSORPTION = (0.5 * (0.4303 + 0.4201), 0.5 * (7.055 + 6.516), 0.5 * (178.1 + 131.9))
_WEIGHTS = (
    (0.58290, -3.9270e-4, 2.00345e-7, -3.4235e-11),
    (0.026225, 4.7555e-4, -3.0895e-7, 5.1490e-11),
    (0.23125, -2.4710e-4, 0.89095e-7, -1.0621e-11),
)


def graetz_number(
    mass_flow: Annotated[Array, "kg/s", "flow in the duct", "> 0"],
    heat_capacity: Annotated[Array, "J/kg/K", "specific heat", "> 0"],
    conductivity: Annotated[Array, "W/m/K", "thermal conductivity", "> 0"],
    length: Annotated[Array, "m", "length of the duct", "> 0"],
) -> Annotated[Array, "", "Graetz number of a round tube"]:
    """Gz = Re Pr d/L = 4 m cp/(pi k L): neither bore nor viscosity is left in it."""
    return (4.0 / np.pi) * mass_flow * heat_capacity / (conductivity * length)


def nusselt_tube(
    graetz: Annotated[Array, "", "Graetz number Re Pr d/L", "> 0"],
) -> Annotated[Array, "", "Nusselt number, mean over the length"]:
    """Hausen 1943: 3.66 + 0.0668 Gz/(1 + 0.04 Gz^(2/3)).

    Laminar (Re < 2300), wall of one temperature, velocity profile developed at the inlet.
    0.3 to 1.7 % above the exact (Graetz) solution for Gz 1 to 100; a profile that develops
    together with the temperature adds up to 19 % at Gz 35 (Baehr and Stephan), left out.
    """
    return _entry(NUSSELT_TUBE, 0.0668, 0.04, graetz)


def nusselt_parallel_plates(
    graetz: Annotated[Array, "", "Graetz number Re Pr 2g/L on twice the gap g", "> 0"],
) -> Annotated[Array, "", "Nusselt number on twice the gap, mean over the length"]:
    """Edwards, Denny and Mills 1979: 7.54 + 0.03 Gz/(1 + 0.016 Gz^(2/3)).

    Laminar (Re < 2300), both plates at one temperature, velocity profile developed at the
    inlet. The limit 7.54 is Shah and London's; coefficients from memory, checked: within 2 % of
    the exact (Graetz) solution for Gz below 1000.
    """
    return _entry(NUSSELT_PARALLEL_PLATES, 0.03, 0.016, graetz)


def left_over(
    transfer_units: Annotated[Array, "", "number of transfer units h A/(m cp)", ">= 0"],
) -> Annotated[Array, "", "share of the temperature difference left at the outlet"]:
    """1 - effectiveness = exp(-NTU), for a wall of one temperature (capacity ratio 0). Exact."""
    left: Array = np.exp(-transfer_units)
    return left


def gas_emissivity(
    temperature: Annotated[Array, "K", "temperature of the gas", "> 0"],
    path: Annotated[Array, "atm*m", "pressure of CO2 and steam times mean beam length", ">= 0"],
) -> Annotated[Array, "", "emissivity of the gas"]:
    """Weighted sum of three grey gases: sum of a_i(T) (1 - exp(-k_i pL)).

    Smith, Shen and Friedman 1982 (J. Heat Transfer 104, 602), 600 to 2400 K, 0.001 to 10 atm m;
    coefficients from memory, checked against Leckner 1972 within 14 % (doubt 15 %).
    Soot is not in it: spirit flames have little of it, at most 1.6 times.
    """
    return polynomial(emissivity_law(path), temperature)


def emissivity_law(
    path: Annotated[Array, "atm*m", "pressure of CO2 and steam times mean beam length", ">= 0"],
    factor: Annotated[Array, "", "by which all of it is taken", ">= 0"] = 1.0,
) -> tuple[Array, ...]:
    """Coefficients of the powers of T in `gas_emissivity`: a path stays while T is sought."""
    absorbed = [factor * (1.0 - np.exp(-k * path)) for k in _ABSORPTION]
    laws = zip(*_WEIGHTS, strict=True)
    return tuple(sum(a * w for a, w in zip(absorbed, law, strict=True)) for law in laws)


def radiation_coefficient(
    hot: Annotated[Array, "K", "one temperature", "> 0"],
    cold: Annotated[Array, "K", "the other", "> 0"],
) -> Annotated[Array, "W/m2K", "radiation between black surfaces per kelvin of difference"]:
    """Chord of the fourth power: sigma (T1^4 - T2^4)/(T1 - T2) = sigma (T1^2 + T2^2)(T1 + T2)."""
    return STEFAN_BOLTZMANN * radiation_chord(hot, cold)


def radiation_chord(
    hot: Annotated[Array, "K", "one temperature", "> 0"],
    cold: Annotated[Array, "K", "the other", "> 0"],
) -> Annotated[Array, "K3", "chord of the fourth power"]:
    """`radiation_coefficient` over the constant: (T1^2 + T2^2)(T1 + T2)."""
    chord = hot * hot + cold * cold
    chord *= hot + cold
    return chord


def plate_temperature(
    gain: Annotated[Array, "W/m2", "sum of h T over what warms the plate", "> 0"],
    conductance: Annotated[Array, "W/m2K", "sum of h over the same", "> 0"],
    emissivity: Annotated[Array, "", "emissivity, summed over the faces", ">= 0"],
    surroundings: Annotated[Array, "K", "temperature of the walls it shines on", "> 0"],
) -> Annotated[Array, "K", "temperature of the plate"]:
    """Balance of a thin plate: gain - conductance T = emissivity sigma (T^4 - surroundings^4).

    The left side falls and the right side rises: one root. Both rising terms of
    conductance T + emissivity sigma T^4 are convex, so Newton's steps from above fall to it
    without overshooting; the start is where the larger of the two alone would carry all, at
    most a fifth too hot, and four steps leave less than 1e-5 K. Walls black (sooted), as an
    enclosure much larger than the plate; conduction to its lugs is left out.
    """
    radiating = STEFAN_BOLTZMANN * emissivity
    all_in = gain + radiating * (surroundings * surroundings) ** 2
    plate = np.minimum(all_in / conductance, np.sqrt(np.sqrt(np.divide(all_in, radiating))))
    for _ in range(4):
        power = plate * plate
        power *= plate
        power *= radiating
        steeper = 4.0 * power
        steeper += conductance
        power *= plate
        power *= 3.0
        power += all_in
        power /= steeper
        plate = power
    result: Array = plate
    return result


def parallel_rectangles(
    length: Annotated[Array, "m", "one side of both rectangles", "> 0"],
    width: Annotated[Array, "m", "their other side", "> 0"],
    distance: Annotated[Array, "m", "from one to the other", "> 0"],
) -> Annotated[Array, "", "share of what leaves one that strikes the other"]:
    """View factor of two equal rectangles that face each other (textbooks; exact).

    With X = length/distance, Y = width/distance, U = 1 + X^2, V = 1 + Y^2:
    F = 2/(pi X Y) [ln sqrt(U V/(1 + X^2 + Y^2)) + X sqrt(V) atan(X/sqrt(V))
    + Y sqrt(U) atan(Y/sqrt(U)) - X atan X - Y atan Y].
    """
    x, y = length / distance, width / distance
    u, v = 1.0 + x * x, 1.0 + y * y
    across, along = np.sqrt(v), np.sqrt(u)
    total = (
        0.5 * np.log1p(x * x * y * y / (u + y * y))
        + x * across * np.arctan(x / across)
        + y * along * np.arctan(y / along)
        - x * np.arctan(x)
        - y * np.arctan(y)
    )
    share: Array = 2.0 / np.pi * total / (x * y)
    return share


def _entry(developed: float, rise: float, bend: float, graetz: Array) -> Array:
    """Give the form Hausen chose: `developed` far down, the power 1/3 near the entry."""
    nusselt: Array = developed + rise * graetz / (1.0 + bend * np.cbrt(graetz * graetz))
    return nusselt
