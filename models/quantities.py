"""What several models take alike: one alias an argument, so that all of them say the same of it.

Each carries unit, meaning and, where it is the same for all, the range that makes sense; then its
kind with what it honestly varies by, and what a gauge reads it as. The spreads are a builder's
who has measured nothing yet: judgement where no source is named beside them; a study says better.
A model adds what is its own, such as a narrower range: ``Annotated[BurnRate, "> 0"]``.
"""

from typing import Annotated

from models.arrays import Array

# The fuel. Bought spirit, opened often, its methanol unknown; a cold morning to a hot tank.
FuelTemperature = Annotated[
    Array, "degC", "temperature of the fuel", "0..60", "running: 5..40 triangular"
]
FuelWater = Annotated[
    Array, "", "mass fraction of water in the fuel", "0..0.15", "running: 0.03..0.12 triangular"
]
FuelMethanol = Annotated[
    Array, "", "mass fraction of methanol in the alcohol", "0..0.1", "running: 0..0.1"
]

# What burns. Weighed for ten minutes on several evenings (12 %), and more as the draught rises.
BurnRate = Annotated[
    Array,
    "ml/min",
    "fuel all wicks burn together, as weighed over ten minutes in steam",
    "running: lognormal 18 %",
]
WeighedBurnRate = Annotated[
    Array,
    "ml/min",
    "fuel all wicks burnt together when they were weighed",
    "> 0",
    "running: lognormal 12 %",
]
StatedDraught = Annotated[
    Array, "Pa", "suction of the smokebox at that weighing", "> 0", "running: +-4"
]
DraughtExponent = Annotated[
    Array, "", "power of the draught with which the burn goes", ">= 0", "model: 0..0.6 triangular"
]

# The track: a garden line laid by eye; stopping and starting by hand control.
Grade = Annotated[
    Array,
    "%",
    "gradient of the track, positive if it raises the level at the wicks",
    "running: +-0.8 normal",
]
Acceleration = Annotated[
    Array,
    "m/s2",
    "acceleration, positive if it raises the level at the wicks",
    "running: +-0.09 triangular",
]
Cant = Annotated[
    Array,
    "deg",
    "sideways lean, positive if it raises the level at the wicks",
    "-45..45",
    "running: +-1.5 normal",
]
SloshAmplitude = Annotated[
    Array,
    "mm",
    "amplitude of the waves at the breather on a rough track",
    ">= 0",
    "running: 0..2 triangular",
]

# The fuel pipe. An elbow's loss: creeping flow to Hooper 1981; a bubble's rise: Wallis 1969.
OutletHeight = Annotated[
    Array, "mm", "axis of the sump outlet above the sump floor", "read as height"
]
OutletTilt = Annotated[Array, "deg", "upward tilt of the first run", "read as angle"]
PipeBore = Annotated[Array, "mm", "inside diameter of the fuel pipe", "> 0", "read as bore"]
PipeWall = Annotated[Array, "mm", "wall thickness of the fuel pipe", "> 0", "read as outside size"]
PipeOvality = Annotated[Array, "", "(widest - least bore)/mean in the bends", "0..1"]
PipeLength = Annotated[
    Array, "mm", "length of the pipe along its centreline", "read as outside size"
]
ObstacleHeight = Annotated[
    Array, "mm", "centre of the obstacle above the sump floor", "read as height"
]
ObstaclePosition = Annotated[
    Array, "mm", "centre of the obstacle beyond the sump outlet", "read as outside size"
]
ObstacleDiameter = Annotated[
    Array, "mm", "diameter of the obstacle", ">= 0", "read as outside size"
]
BracketSlack = Annotated[
    Array, "mm", "far bracket lets the pipe up or down by", ">= 0", "read as gap"
]
BracketDistance = Annotated[
    Array, "mm", "far bracket beyond the outlet", "> 0", "read as outside size"
]
BracketPlay = Annotated[
    Array, "", "where in that slack the pipe lies, up", "-1..1", "running: -1..1"
]
BendEquivalentLength = Annotated[
    Array, "", "bores of pipe as good as an elbow or a bend", ">= 0", "model: 0.5..12.5 log_uniform"
]
BubbleRiseFactor = Annotated[
    Array, "", "doubt of a bubble's rise in the pipe", "> 0", "model: lognormal 20 %"
]
OcclusionBondNumber = Annotated[
    Array, "", "below it fuel fills the bore as it runs along a level pipe", ">= 0", "model: 0.6..1"
]
PipeHeadLoss = Annotated[
    Array,
    "mm",
    "head lost in the fuel pipe while burning, as a height of fuel",
    ">= 0",
    "model: lognormal 40 %",
]
AirLockClears = Annotated[
    Array, "", "1 where shut in air does not stop the feed, else 0", "yes or no"
]

# The breather's end: rim, burr and tarnish; shaking is slosh_amplitude's and not counted twice.
# How a slanted mouth shuts is a guess.
BreatherHeight = Annotated[
    Array,
    "mm",
    "lowest point of the breather's mouth above the sump floor",
    "> 0",
    "read as height",
]
BreatherBore = Annotated[Array, "mm", "inside diameter of the breather", "> 0", "read as bore"]
BreatherWall = Annotated[Array, "mm", "wall of the breather's tube", ">= 0", "read as outside size"]
BreatherScarf = Annotated[
    Array, "deg", "slant of the breather's mouth from a square cut", "0..60", "read as angle"
]
BreatherChamfer = Annotated[
    Array, "", "outer edge of its end: 0 square, 1 bevelled to a knife edge", "0..1"
]
ScarfRadiusFactor = Annotated[
    Array,
    "",
    "radius over which air enters a mouth cut at 45 deg, in bore radii",
    "1..1.6",
    "model: 1..1.6 triangular",
]
ScarfClosing = Annotated[
    Array,
    "",
    "rise of fuel that shuts a slanted mouth, over that on a round tube",
    "0..1",
    "model: 0.3..0.9",
]
AirEntryFactor = Annotated[
    Array,
    "",
    "head that holds air out, over that of a clean wetted rim",
    ">= 0",
    "model: 0.5..1 triangular",
]
ClingFactor = Annotated[
    Array,
    "",
    "depth at which fuel on the outer rim lets go, over that of a still ring",
    ">= 0",
    "model: 0.8..1 triangular",
]
RecedingAngle = Annotated[
    Array,
    "deg",
    "contact angle at which fuel draws back on the breather's end",
    "0..60",
    "model: 0..30 triangular",
]

# Sump and tank: from nearly full to nearly empty.
SumpFreeArea = Annotated[
    Array, "cm2", "surface of the fuel in the sump, its length by its width inside", "> 0"
]
TankVolume = Annotated[Array, "ml", "inside of the tank, fuel and air", "> 0"]
TankFloorArea = Annotated[Array, "cm2", "free surface of the fuel in the tank", "> 0"]
TankAirVolume = Annotated[Array, "ml", "air space of the tank", ">= 0", "running: 5..45"]
TankHead = Annotated[
    Array, "mm", "fuel surface in the tank above that in the sump", "running: 12..42"
]
ValveOpening = Annotated[
    Array, "", "share of the feed capacity the valve is set to; 0 shut", "0..1", "running"
]
Reach = Annotated[
    Array,
    "mm",
    "distance from the breather's mouth to the wicks, along the engine",
    "read as outside size",
]
OutletReach = Annotated[
    Array,
    "mm",
    "distance from the breather's mouth to the sump outlet, along the engine",
    "read as outside size",
]
Lateral = Annotated[
    Array,
    "mm",
    "distance from the breather's mouth to the wicks, across the engine",
    "read as outside size",
]

# The burner. What wicks hold: the largest hole beside the packing. Hot fuel: 40 to 78 degC.
BurnerHeight = Annotated[
    Array, "mm", "axis of the burner pipe at the first wick, above the sump floor", "read as height"
]
WickLipHeight = Annotated[
    Array, "mm", "lip of the wick tubes above the axis of the burner pipe", "> 0", "read as height"
]
WickHold = Annotated[
    Array,
    "mm",
    "level below the crown at which wet wicks still keep air out",
    ">= 0",
    "model: 0..6 triangular",
]
HotColumnLift = Annotated[
    Array,
    "mm",
    "rise of the level at the wicks by fuel that is hot there, while burning",
    "model: 0..0.8 triangular",
]
WickStarveMargin = Annotated[
    Array,
    "mm",
    "lowest level at the first wick, burning, less the crown of the burner pipe",
    "model",
]
WickCount = Annotated[Array, "", "number of wicks", "1..6"]
WickPitch = Annotated[Array, "mm", "from one wick to the next", "> 0", "read as outside size"]
WickBore = Annotated[Array, "mm", "inside diameter of the wick tubes", "> 0", "read as bore"]
WickTubeWall = Annotated[Array, "mm", "wall thickness of the wick tubes", "read as outside size"]
Manifold = Annotated[
    Array,
    "",
    "whether the wicks stand across the engine, the feed in their middle",
    "0..1",
    "yes or no",
]
BurnerPosition = Annotated[
    Array,
    "mm",
    "first wick, or middle of a manifold, from the wall where the pipe enters",
    "read as outside size",
]

# The firebox: oxidised steel, slots at low Reynolds numbers, weakly sooty flames.
DeflectorGap = Annotated[Array, "mm", "passage over the deflector plate", "> 0", "read as gap"]
DeflectorLength = Annotated[
    Array, "mm", "length of the deflector plate, along the gas", "> 0", "read as outside size"
]
FireboxWidth = Annotated[Array, "mm", "inside width of the firebox", "> 0", "read as outside size"]
FireboxHeight = Annotated[
    Array, "mm", "height of the firebox crown above the burners", "> 0", "read as height"
]
TubeCount = Annotated[Array, "", "number of fire tubes", "> 0"]
TubeBore = Annotated[Array, "mm", "inside diameter of a fire tube", "> 0", "read as bore"]
TubeLength = Annotated[Array, "mm", "length of a fire tube", "> 0", "read as outside size"]
AirInletArea = Annotated[Array, "mm2", "openings by which air meets the flames", "> 0"]
BypassArea = Annotated[Array, "mm2", "openings by which air passes the flames by", ">= 0"]
DischargeCoefficient = Annotated[
    Array, "", "discharge coefficient of the air inlet and of the gap", "0..1", "model: 0.6..0.75"
]
Unmixedness = Annotated[
    Array,
    "",
    "standard deviation of the logarithm of the local air ratio",
    ">= 0",
    "model: 0.25..0.45",
]
DeflectorEmissivity = Annotated[Array, "", "emissivity of the deflector", "0..1", "model: 0.6..0.9"]
FlameFilmCoefficient = Annotated[
    Array, "W/m2K", "heat transfer from the flames by convection", "> 0", "model: 15..80 triangular"
]
HeatTransferFactor = Annotated[
    Array,
    "",
    "real over computed heat transfer by convection, all surfaces",
    "> 0",
    "model: lognormal 20 %",
]
GasRadiationFactor = Annotated[
    Array, "", "real over computed radiation of the flames", ">= 0", "model: 1..1.6"
]
FireLoss = Annotated[
    Array, "", "share of the computed heat that never reaches the water", "0..1", "model: 0.3..0.65"
]

# The surroundings: the year round, and some hundred metres of height with the weather.
AmbientTemperature = Annotated[Array, "degC", "temperature of the air", "-20..60", "running: 0..30"]
AmbientPressure = Annotated[
    Array, "bar", "pressure of the atmosphere", "running: 0.94..1.05 triangular"
]

# Steam and draught. What jets of this size draw has no source: a water gauge on the smokebox does.
SteamPressure = Annotated[Array, "bar", "boiler pressure above the atmosphere", "running: 2..4"]
Draught = Annotated[Array, "Pa", "suction of the smokebox", "> 0", "running: lognormal 25 %"]
AuxiliaryDraught = Annotated[Array, "Pa", "suction of a fan on the chimney", ">= 0", "running"]
BlowerSteam = Annotated[
    Array, "g/min", "steam the blower jet passes", ">= 0", "model: lognormal 15 %"
]
BlowerDraughtFactor = Annotated[
    Array,
    "Pa*min/g",
    "suction for each g/min of steam from the blower",
    ">= 0",
    "model: 4..20 log_uniform",
]
ExhaustDraughtFactor = Annotated[
    Array,
    "Pa*min/g",
    "suction for each g/min of steam from the cylinders",
    ">= 0",
    "model: 3..20 log_uniform",
]
FeedTemperature = Annotated[
    Array, "degC", "temperature of the feed water", "0..171", "running: 5..40 triangular"
]
PistonBore = Annotated[Array, "mm", "bore of a cylinder", "> 0", "read as bore"]
PistonStroke = Annotated[Array, "mm", "stroke of a piston", "> 0", "read as outside size"]
Cylinders = Annotated[Array, "", "number of double-acting cylinders", "> 0"]
Cutoff = Annotated[Array, "", "share of the stroke at which admission ends", "0..1"]
CondensationFactor = Annotated[
    Array,
    "",
    "steam taken over the steam that would fill the cylinders dry",
    "> 0",
    "model: 2..4 triangular",
]
Revolutions = Annotated[Array, "rpm", "revolutions of the crankshaft", ">= 0", "running: 120..240"]

# A schedule.
Duration = Annotated[Array, "min", "how long this step lasts", ">= 0", "running"]
