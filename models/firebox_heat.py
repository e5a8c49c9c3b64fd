"""Heat from a spirit fire under a deflector plate to the boiler, by way of the air it gets."""

from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import Array
from models.draught import reynolds_number
from models.firebox import LAMINAR_LIMIT, ZERO_CELSIUS, firebox, settle
from models.quantities import (
    AirInletArea,
    AmbientTemperature,
    BurnRate,
    BypassArea,
    DeflectorEmissivity,
    DeflectorGap,
    DeflectorLength,
    DischargeCoefficient,
    Draught,
    FireboxHeight,
    FireboxWidth,
    FireLoss,
    FlameFilmCoefficient,
    FuelTemperature,
    FuelWater,
    GasRadiationFactor,
    HeatTransferFactor,
    SteamPressure,
    TubeBore,
    TubeCount,
    TubeLength,
    Unmixedness,
)
from models.ranges import POSITIVE, SHARE, within


class FireboxHeat(NamedTuple):
    """What a fire gives to the boiler; the fields have the shape of the arguments together."""

    heat_to_boiler: Annotated[Array, "W", "heat to the boiler, firebox and tubes together"]
    heat_firebox: Annotated[Array, "W", "heat to the firebox walls, the deflector's share in it"]
    heat_tubes: Annotated[Array, "W", "heat to the fire tubes"]
    heat_lost: Annotated[
        Array, "W", "heat the gas gives off that does not reach the water: fire_loss, and the floor"
    ]
    efficiency: Annotated[Array, "%", "heat to the boiler, of the fuel's lower heating value"]
    deflector_temperature: Annotated[Array, "degC", "temperature of the deflector plate"]
    smokebox_temperature: Annotated[Array, "degC", "temperature of the gas leaving the tubes"]
    air_ratio: Annotated[Array, "", "air that meets the flames, over the air their fuel needs"]
    burnt_fraction: Annotated[Array, "", "share of the fuel that burns"]


def firebox_heat(
    deflector_gap: DeflectorGap = 5.0,
    deflector_length: DeflectorLength = 30.0,
    firebox_width: FireboxWidth = 45.0,
    firebox_height: FireboxHeight = 45.0,
    tube_count: TubeCount = 7.0,
    tube_bore: TubeBore = 8.5,
    tube_length: TubeLength = 150.0,
    air_inlet_area: AirInletArea = 150.0,
    bypass_area: BypassArea = 10.0,
    burn_rate: Annotated[BurnRate, "> 0"] = 3.0,
    fuel_water: FuelWater = 0.06,
    fuel_temperature: FuelTemperature = 20.0,
    draught: Draught = 40.0,
    ambient_temperature: AmbientTemperature = 20.0,
    steam_pressure: Annotated[SteamPressure, "0..6.9"] = 3.0,
    discharge_coefficient: DischargeCoefficient = 0.65,
    unmixedness: Unmixedness = 0.35,
    deflector_emissivity: DeflectorEmissivity = 0.8,
    flame_film_coefficient: FlameFilmCoefficient = 40.0,
    heat_transfer_factor: HeatTransferFactor = 1.0,
    gas_radiation_factor: GasRadiationFactor = 1.0,
    fire_loss: FireLoss = 0.5,
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
       Nu = 7.54 + 0.03 Gz/(1 + 0.016 Gz^(2/3)), on plate, crown and both sides (2 gap length),
       and radiation of the gas in the passage, beam 1.8 gap width/(gap + width) (3.6 V/A of a
       long duct). Number of transfer units in both.
    4. The plate gains from both sides and radiates from both faces to black surroundings. Of
       what its lower face radiates the floor takes the share that it sees
       (`heat_exchange.parallel_rectangles`), which is lost.
    5. Bypass air joins at the tubes; tubes by Hausen 1943, 3.66 + 0.0668 Gz/(1 + 0.04 Gz^(2/3)).
    6. Vapour that does not burn carries off 0.93 MJ/kg + 1.9 kJ/(kg K) (T - 298 K)
       (`gas.enthalpy`): it was evaporated and warmed for nothing.
    7. fire_loss is a share of what the gas gives off in firebox and tubes that does not get into
       the water; it is taken off heat_firebox and heat_tubes alike. 0 leaves the computed heat.

    heat released = heat_firebox + heat_tubes + heat_lost + what the smokebox gas holds above the
    enthalpy of its air and of the liquid fuel, to rounding. All walls are at the temperature of
    saturated steam.

    NaN outside the ranges of the arguments; for a gap not between 0 and the firebox's height;
    for Re above 2300 in tubes or passage; for fuel outside its own ranges; and where the draught
    does not bring in a tenth of the air needed.

    Doubt, as arguments: discharge_coefficient 0.6 to 0.75; unmixedness 0.25 to 0.45;
    deflector_emissivity 0.6 to 0.9 (oxidised steel; polished stainless 0.2 to 0.4);
    flame_film_coefficient 15 to 80 W/m2K; heat_transfer_factor lognormal, 20 %;
    gas_radiation_factor 1 to 1.6 (soot). All of them together give heat_to_boiler a standard
    deviation of 5 %, its parts 12 %, the plate 25 K. fire_loss is the greatest doubt, 0.3 to
    0.65: the open firebox, the frames, the burners, fuel that does not reach the flames and wet
    steam. That 60 ml of spirit boil away about 120 ml of water (common practice, no source) is
    27 % of the fuel's heat, where this model without fire_loss has 75 %; weigh fuel and water.
    deflector_temperature reads black below 530 degC, dull red 630 to 730, bright red 830 to 980;
    printed scales of red part by 85 K, and bright red is not reached here.

    burn_rate is taken as it is: `burn_rate.follow_the_fire` lets it rise with the draught,
    without which a stronger draught only cools the plate once the fire has enough air.

    Assumed: the firebox is as long as its deflector, so the walls below it are
    2 (length + width)(height - gap); fuel that does not burn counts as products in the gas but
    for its enthalpy; the floor is as cool as the walls; the fuel comes in at 25 degC for its
    heat (10 K is 0.1 % of it), at its own temperature for its mass. A firebox without a plate is
    told by a gap that reaches nearly to the burners.
    Left out: methanol in the fuel (10 % of it lowers heat and air alike by some 3 %); a barometer
    other than standard; resistance of the boiler's side (under 3 %); conduction along the plate
    to its lugs; steam condensing in cold tubes.
    """
    with np.errstate(all="ignore"):
        box = firebox(
            deflector_gap=deflector_gap,
            deflector_length=deflector_length,
            firebox_width=firebox_width,
            firebox_height=firebox_height,
            tube_count=tube_count,
            tube_bore=tube_bore,
            tube_length=tube_length,
            air_inlet_area=air_inlet_area,
            bypass_area=bypass_area,
            burn_rate=burn_rate,
            fuel_water=fuel_water,
            fuel_temperature=fuel_temperature,
            ambient_temperature=ambient_temperature,
            steam_pressure=steam_pressure,
            discharge_coefficient=discharge_coefficient,
            unmixedness=unmixedness,
            deflector_emissivity=deflector_emissivity,
            flame_film_coefficient=flame_film_coefficient,
            heat_transfer_factor=heat_transfer_factor,
            gas_radiation_factor=gas_radiation_factor,
        )
        air, fire, settled = settle(box, within(draught, POSITIVE))
        lost = within(fire_loss, SHARE)
        sound = settled & np.asarray(reynolds_number(box.way, fire.gas, air) <= LAMINAR_LIMIT)
        sound = sound & np.isfinite(lost)
        from_firebox, from_tubes = fire.heat_firebox, fire.heat_tubes
        heat_firebox, heat_tubes = (1.0 - lost) * from_firebox, (1.0 - lost) * from_tubes
        heat = heat_firebox + heat_tubes

        def kept(result: Array) -> Array:
            answer: Array = np.where(sound, result, np.nan)[()]
            return answer

        return FireboxHeat(
            heat_to_boiler=kept(heat),
            heat_firebox=kept(heat_firebox),
            heat_tubes=kept(heat_tubes),
            heat_lost=kept(lost * (from_firebox + from_tubes) + fire.heat_floor),
            efficiency=kept(100.0 * heat / box.heat_of_fuel),
            deflector_temperature=kept(fire.plate - ZERO_CELSIUS),
            smokebox_temperature=kept(fire.smokebox - ZERO_CELSIUS),
            air_ratio=kept(fire.air_ratio),
            burnt_fraction=kept(fire.burnt_fraction),
        )
