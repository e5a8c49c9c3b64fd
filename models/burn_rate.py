"""The burn that follows the fire: what the wicks burn as the draught over them changes."""

from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import Array
from models.quantities import Draught, DraughtExponent, StatedDraught, WeighedBurnRate
from models.ranges import NOT_NEGATIVE, POSITIVE, within


class BurnRate(NamedTuple):
    """What the wicks burn; the field has the shape of the arguments together."""

    burn_rate: Annotated[Array, "ml/min", "fuel burnt by all wicks together"]


def follow_the_fire(
    weighed_burn_rate: WeighedBurnRate = 3.0,
    draught: Draught = 40.0,
    stated_draught: StatedDraught = 40.0,
    draught_exponent: DraughtExponent = 0.35,
) -> BurnRate:
    """Burn of the wicks at a draught other than that at which they were weighed.

    burn_rate = weighed_burn_rate (draught/stated_draught)^draught_exponent, one value for pipe,
    feed, surge and fire, fuel and heat alike. Evaporation in the film of a flame goes as
    h/cp ln(1 + B) with h ~ Re^(1/2), and the speed of the air as the square root of the
    draught: a power of 1/4 for film alone, 0 for flames that draw their own air, more as a
    hotter plate shines on the wicks. A power of 1/2 keeps the air ratio; 0 is a burn that the
    fire does not change. That small alcohol pools (5 cm) burn faster in faster air is published
    (Hu and others 2009, methanol, 0 to 3 m/s); for wicks nothing is: weigh at two draughts.

    Doubt, as an argument: draught_exponent 0 to 0.6, 0.35 the middle (judgement). The
    wicks' own supply (`wick_supply`) is not asked here. NaN outside the ranges.
    """
    with np.errstate(all="ignore"):
        ratio = within(draught, POSITIVE) / within(stated_draught, POSITIVE)
        # Not a power: 1 to the power NaN is 1.
        followed = np.exp(within(draught_exponent, NOT_NEGATIVE) * np.log(ratio))
        return BurnRate(burn_rate=within(weighed_burn_rate, POSITIVE) * followed)
