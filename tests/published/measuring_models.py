"""Models whose value of measuring has a closed form, or is found on its own by nested sampling."""

from typing import Annotated, NamedTuple

from models.arrays import Array


class Gap(NamedTuple):
    """Result of `shimmed_gap` and of `bowed_gap`."""

    gap: Annotated[Array, "mm", "what is left"]


def shimmed_gap(
    shim: Annotated[Array, "mm", "thickness of the shim"] = 0.0,
    x1: Annotated[Array, "mm", "first part"] = 0.0,
    x2: Annotated[Array, "mm", "second part"] = 0.0,
    x3: Annotated[Array, "mm", "third part"] = 0.0,
    idle: Annotated[Array, "mm", "a part that has no say"] = 0.0,
    nominal_gap: Annotated[Array, "mm", "gap with all parts at nothing"] = 0.0,
) -> Gap:
    """Gap c + shim + 3 x1 - 2 x2 + x3, linear in all."""
    return Gap(nominal_gap + shim + 3.0 * x1 - 2.0 * x2 + x3 + 0.0 * idle)


def bowed_gap(
    shim: Annotated[Array, "mm", "thickness of the shim"] = 0.0,
    x1: Annotated[Array, "mm", "first part"] = 0.0,
    x2: Annotated[Array, "mm", "second part"] = 0.0,
    x3: Annotated[Array, "mm", "third part"] = 0.0,
) -> Gap:
    """Gap shim + 3 x1^2 + 2 x1 x2 + x3: what is best is not linear in what is read."""
    return Gap(shim + 3.0 * x1**2 + 2.0 * x1 * x2 + x3)


class Reach(NamedTuple):
    """Result of `bent_reach`."""

    reach: Annotated[Array, "mm", "height of the end, which a gauge can reach"]
    off: Annotated[Array, "mm", "the same with what is set"]


def bent_reach(
    bend_1: Annotated[Array, "mm", "what the first bend adds"] = 0.0,
    bend_2: Annotated[Array, "mm", "what the second bend adds"] = 0.0,
    bend_3: Annotated[Array, "mm", "what the third bend adds"] = 0.0,
    bend_4: Annotated[Array, "mm", "what the fourth bend adds"] = 0.0,
    bend_5: Annotated[Array, "mm", "what the fifth bend adds"] = 0.0,
    sway: Annotated[Array, "mm", "how the end swings while running"] = 0.0,
    setting: Annotated[Array, "mm", "what is set at assembly"] = 0.0,
) -> Reach:
    """End of five bends, the sum of what each adds."""
    reach = bend_1 + bend_2 + bend_3 + bend_4 + bend_5 + sway
    return Reach(reach, reach + setting)
