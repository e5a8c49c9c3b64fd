"""Heat from a spirit fire under a deflector plate to the boiler, by way of the air it gets."""

from typing import Annotated, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models import fuel, gas, steam
from models.arrays import STANDARD_ATMOSPHERE, Array
from models.draught import GasState, air_way, drawn_air, reynolds_number
from models.fire import Fire, Firebox, fire_at
from models.fuel import within

POSITIVE = (1e-6, 1e6)
"""What is computed of a quantity that must be positive, in its shop unit."""

NOT_NEGATIVE = (0.0, 1e6)
SHARE = (0.0, 1.0)

AMBIENT_RANGE = (-20.0, 60.0)
"""Temperatures of the air for which its fits hold, degC."""

LEAST_AIR_RATIO = 0.02
"""Air ratio below which no answer is sought: there is no fire."""

LAMINAR_LIMIT = 2300.0
"""Reynolds number above which the laminar laws of passage and tubes do not hold."""

_ZERO_CELSIUS = 273.15
_ML_PER_MIN = 1e-6 / 60.0  # m3/s
_MM = 1e-3
_MM2 = 1e-6
_STEPS = 24  # of the search, at most; six to eight are used
_SETTLED = 1e-11  # of the air flow
# Gas half way down a fire of common kind: where the search starts.
_WARM = GasState(
    gap_density=gas.density(1300.0, 0.7),
    passage_density=gas.density(1200.0, 0.7),
    passage_viscosity=gas.viscosity(1200.0, 0.7),
    tube_density=gas.density(800.0, 0.7),
    tube_viscosity=gas.viscosity(800.0, 0.7),
)


class FireboxHeat(NamedTuple):
    """What a fire gives to the boiler; the fields have the shape of the arguments together."""

    heat_to_boiler: Annotated[Array, "W", "heat to the boiler, firebox and tubes together"]
    heat_firebox: Annotated[Array, "W", "heat to the firebox walls, the deflector's share in it"]
    heat_tubes: Annotated[Array, "W", "heat to the fire tubes"]
    efficiency: Annotated[Array, "%", "heat to the boiler, of the fuel's lower heating value"]
    deflector_temperature: Annotated[Array, "degC", "temperature of the deflector plate"]
    smokebox_temperature: Annotated[Array, "degC", "temperature of the gas leaving the tubes"]
    air_ratio: Annotated[Array, "", "air that meets the flames, over the air their fuel needs"]
    burnt_fraction: Annotated[Array, "", "share of the fuel that burns"]


def firebox_heat(
    deflector_gap: Annotated[Array, "mm", "passage over the deflector plate", "> 0"] = 5.0,
    deflector_length: Annotated[
        Array, "mm", "length of the deflector plate, along the gas", "> 0"
    ] = 30.0,
    firebox_width: Annotated[Array, "mm", "inside width of the firebox", "> 0"] = 45.0,
    firebox_height: Annotated[
        Array, "mm", "height of the firebox crown above the burners", "> 0"
    ] = 45.0,
    tube_count: Annotated[Array, "", "number of fire tubes", "> 0"] = 7.0,
    tube_bore: Annotated[Array, "mm", "inside diameter of a fire tube", "> 0"] = 8.5,
    tube_length: Annotated[Array, "mm", "length of a fire tube", "> 0"] = 150.0,
    air_inlet_area: Annotated[
        Array, "mm2", "openings by which air meets the flames", "> 0"
    ] = 150.0,
    bypass_area: Annotated[
        Array, "mm2", "openings by which air passes the flames by", ">= 0"
    ] = 10.0,
    burn_rate: Annotated[Array, "ml/min", "fuel burnt by all wicks together", "> 0"] = 3.0,
    fuel_water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.06,
    fuel_temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 20.0,
    draught: Annotated[Array, "Pa", "suction of the smokebox", "> 0"] = 40.0,
    ambient_temperature: Annotated[Array, "degC", "temperature of the air", "-20..60"] = 20.0,
    steam_pressure: Annotated[Array, "bar", "boiler pressure above the atmosphere", "0..6.9"] = 3.0,
    discharge_coefficient: Annotated[
        Array, "", "discharge coefficient of the air inlet and of the gap", "0..1"
    ] = 0.65,
    unmixedness: Annotated[
        Array, "", "standard deviation of the logarithm of the local air ratio", ">= 0"
    ] = 0.35,
    deflector_emissivity: Annotated[Array, "", "emissivity of the deflector", "0..1"] = 0.8,
    flame_film_coefficient: Annotated[
        Array, "W/m2K", "heat transfer from the flames by convection", "> 0"
    ] = 40.0,
    heat_transfer_factor: Annotated[
        Array, "", "real over computed heat transfer by convection, all surfaces", "> 0"
    ] = 1.0,
    gas_radiation_factor: Annotated[
        Array, "", "real over computed radiation of the flames", ">= 0"
    ] = 1.0,
) -> FireboxHeat:
    """Heat to the boiler of a fire whose air is drawn past a deflector plate.

    The draught drives m of air through inlet, gap, passage and tubes (`draught.pressure_drops`);
    m is found so that the four drops add up to it within 1e-9. Then, at that m (`fire.fire_at`):

    1. air_ratio = primary air/(9.005 (1 - w) fuel), primary air the air inlet's share of m;
       burnt_fraction by lognormal unmixedness; heat released = burnt_fraction times the
       liquid fuel's lower heating value, 26.81 (1 - w) - 2.442 w MJ/kg.
    2. Flame temperature from the enthalpy of complete products and spare air (`models.gas`: within
       13 K of NASA's polynomials), lowered for dissociation: 97 K at an air ratio of 1, 23 K
       at 1.2, 7 K at 1.5; both together good to 20 K, 11 K above 1.2.
    3. Below the plate: the flame film to walls and plate, and radiation of CO2 and steam (Smith,
       Shen and Friedman 1982), mean beam length 3.6 V/A. Over the plate: parallel plates,
       Nu = 7.54 + 0.03 Gz/(1 + 0.016 Gz^(2/3)). Number of transfer units in both.
    4. The plate gains by film from both sides and radiates from both faces to black walls.
    5. Bypass air joins at the tubes; tubes by Hausen 1943, 3.66 + 0.0668 Gz/(1 + 0.04 Gz^(2/3)).

    heat released = heat_firebox + heat_tubes + what the smokebox gas holds above the enthalpy of
    its air, to rounding. All walls are at the temperature of saturated steam.

    NaN outside the ranges of the arguments; for a gap not between 0 and the firebox's height;
    for Re above 2300 in tubes or passage; for fuel outside its own ranges; and where the draught
    does not bring in a fiftieth of the air needed.

    Doubt, as arguments: discharge_coefficient 0.6 to 0.75; unmixedness 0.25 to 0.45;
    deflector_emissivity 0.6 to 0.9 (oxidised steel; polished stainless 0.2 to 0.4);
    flame_film_coefficient 15 to 80 W/m2K; heat_transfer_factor lognormal, 20 %;
    gas_radiation_factor 1 to 1.6 (soot). All of them together give heat_to_boiler a standard
    deviation of 5 %, its parts 12 %, the plate 25 K; what is left out below is not in that.
    deflector_temperature reads black below 530 degC, dull red 630 to 730, bright red 830 to 980.

    Assumed: the firebox is as long as its deflector, so the walls below it are
    2 (length + width)(height - gap); fuel that does not burn leaves as it came (the 3 % of its
    heating value that evaporates it is not charged) and counts as products in the gas; the fuel
    comes in at 25 degC for its heat (10 K is 0.1 % of it), at its own temperature for its mass.
    Left out: methanol in the fuel (10 % of it lowers heat and air alike by some 3 %); a barometer
    other than standard; that a stronger draught fans the flames and draws more vapour from the
    wicks, so more air than the fire needs only cools it here; resistance of the boiler's side
    (under 3 %); radiation of the gas in the passage; conduction along the plate to its lugs; heat
    to the burners and out of the openings; steam condensing in cold tubes.
    """
    with np.errstate(all="ignore"):
        gap, length, width = (
            _MM * within(deflector_gap, POSITIVE),
            _MM * within(deflector_length, POSITIVE),
            _MM * within(firebox_width, POSITIVE),
        )
        below = within(_MM * within(firebox_height, POSITIVE) - gap, POSITIVE)
        count = within(tube_count, POSITIVE)
        tubes_long = _MM * within(tube_length, POSITIVE)
        air_temperature = within(ambient_temperature, AMBIENT_RANGE) + _ZERO_CELSIUS
        burning = (
            _ML_PER_MIN * within(burn_rate, POSITIVE) * fuel.density(fuel_temperature, fuel_water)
        )
        way = air_way(
            inlet_area=_MM2 * within(air_inlet_area, POSITIVE),
            bypass_area=_MM2 * within(bypass_area, NOT_NEGATIVE),
            discharge_coefficient=within(discharge_coefficient, (1e-6, 1.0)),
            gap=gap,
            width=width,
            passage_length=length,
            tube_count=count,
            tube_bore=_MM * within(tube_bore, POSITIVE),
            tube_length=tubes_long,
            air_density=gas.density(air_temperature, 0.0),
            fuel=burning,
        )
        walls = 2.0 * (length + width) * below
        plate = length * width
        factor = within(heat_transfer_factor, POSITIVE)
        boiler = within(steam_pressure, NOT_NEGATIVE) + 1e-5 * STANDARD_ATMOSPHERE
        box = Firebox(
            way=way,
            stoichiometric=fuel.stoichiometric_air(fuel_water),
            heat_of_fuel=burning * (1e6 * fuel.lower_heating_value(fuel_water)),
            air_enthalpy=gas.enthalpy(air_temperature, 0.0),
            wall=steam.saturation_temperature(boiler) + _ZERO_CELSIUS,
            gap=gap,
            wall_area=walls,
            plate_area=plate,
            beam=3.6 * plate * below / (walls + 2.0 * plate),
            tube_count=count,
            tube_length=tubes_long,
            unmixedness=within(unmixedness, NOT_NEGATIVE),
            emissivity=within(deflector_emissivity, SHARE),
            flame_film=within(flame_film_coefficient, POSITIVE) * factor,
            film_factor=factor,
            radiation_factor=within(gas_radiation_factor, NOT_NEGATIVE),
        )
        air, fire, settled = settle(box, within(draught, POSITIVE))
        sound = settled & np.asarray(reynolds_number(way, fire.gas, air) <= LAMINAR_LIMIT)
        heat = fire.heat_firebox + fire.heat_tubes

        def kept(result: Array) -> Array:
            answer: Array = np.where(sound, result, np.nan)[()]
            return answer

        return FireboxHeat(
            heat_to_boiler=kept(heat),
            heat_firebox=kept(fire.heat_firebox),
            heat_tubes=kept(fire.heat_tubes),
            efficiency=kept(100.0 * heat / box.heat_of_fuel),
            deflector_temperature=kept(fire.plate - _ZERO_CELSIUS),
            smokebox_temperature=kept(fire.smokebox - _ZERO_CELSIUS),
            air_ratio=kept(fire.air_ratio),
            burnt_fraction=kept(fire.burnt_fraction),
        )


def settle(box: Firebox, draught: Array) -> tuple[Array, Fire, NDArray[np.bool_]]:
    """Air (kg/s) the draught (Pa) brings in, the fire it makes, and whether they agree.

    The root of drawn_air(temperatures of the fire at m) - m, which falls as m rises, lies
    between the least air of a fire and what the inlet alone would pass. Secant steps inside a
    bracket that shrinks, its middle where a step would leave it; a point that has settled is
    not touched again, so that no point depends on its neighbours.
    """
    way = box.way
    low = LEAST_AIR_RATIO * way.fuel * box.stoichiometric / way.primary_share
    high: Array = np.sqrt(draught / way.inlet)
    air: Array = np.clip(drawn_air(way, _WARM, draught), low, high)
    # Hotter gas from more air slows the flow, so the excess falls faster than m rises.
    slope: Array = 1.25
    before: Array = np.nan
    excess_before: Array = np.nan
    for step in range(_STEPS):
        fire = fire_at(box, air)
        excess = drawn_air(way, fire.gas, draught) - air
        settled = np.asarray(np.abs(excess) <= _SETTLED * air)
        low = np.where(excess > 0.0, air, low)
        high = np.where(excess < 0.0, air, high)
        if not np.any(~settled & np.asarray(high - low > _SETTLED * high)):
            break
        if step:
            slope = (excess_before - excess) / (air - before)
        before, excess_before = air, excess
        trial = air + excess / slope
        trial = np.where((trial > low) & (trial < high), trial, 0.5 * (low + high))
        air = np.where(settled, air, trial)
    return air, fire, settled
