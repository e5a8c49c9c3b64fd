"""Which nominals to draw elsewhere, and what then works, in shop words."""

from __future__ import annotations

from math import ceil, floor, log10

from sensitivity.answers.finalists import hurts_first, of_which, physics
from sensitivity.answers.levels import sampled
from sensitivity.answers.redraw.find import Move, Redrawn
from sensitivity.presentation import wording
from sensitivity.pricing.nominals import Nominal
from sensitivity.pricing.slopes import Slope

INCH = 25.4
NAMED = 3
"""Nominals named at most whose range is asked for."""


def redraw_verdict(found: Redrawn) -> str:
    """Say what to draw elsewhere and what then works, or why nothing is moved."""
    first = hurts_first(
        found.study,
        found.drawn_shares,
        found.shares,
        kept_out=found.kept_out,
        least_only=False,
    )
    told = moved_in_words(found) if found.moves else not_moved_in_words(found)
    return " ".join([*first, told, *ranges_wanted(found)])


def moved_in_words(found: Redrawn) -> str:
    """Say where to draw what, what then works, and what bears it out."""
    assert found.gained is not None
    many = found.study.vocabulary.many
    what = wording.listed([f"the {move_in_words(found, move)}" for move in found.moves])
    text = (
        f"Draw {what}: of 100 {many} about {sampled(found.there.works)} work, which is to "
        f"{of_which(found.there)}, against {sampled(found.stated.works)} as drawn."
        f"{physics(found.there, many)}"
    )
    if ends := open_ends(found):
        text += f" {ends}"
    return f"{text} {borne_out(found)}"


def move_in_words(found: Redrawn, move: Move) -> str:
    """Write where a nominal is drawn instead: ``rise at 8.5 mm, not 8 mm``."""
    name, drawn = wording.in_words(move.nominal.name), wording.drawn(move.nominal.item)
    return f"{name} at {setting(found, move.nominal, move.to)}, not {drawn}"


def setting(found: Redrawn, nominal: Nominal, value: float) -> str:
    """Write a setting with its unit, in inches too where the study is written in them."""
    text = with_its_unit(value, nominal.item.unit)
    if found.study.units == "inch" and nominal.item.unit == "mm":
        return f"{wording.significant(value / INCH)} in ({text})"
    return text


def with_its_unit(value: float, unit: str) -> str:
    """Write a value with four digits and its unit."""
    return wording.with_unit(wording.significant(value), unit)


def open_ends(found: Redrawn) -> str:
    """Say of which nominals the end of the range, and not a limit, stops the move."""
    rising: list[str] = []
    level: list[str] = []
    for move in found.moves:
        if move.open_end:
            end = move.nominal.settings[-1 if move.up else 0]
            name = wording.in_words(move.nominal.name)
            text = f"{name} ({setting(found, move.nominal, end)})"
            (rising if move.to == end else level).append(text)
    told = []
    if rising:
        told.append(f"Still rising where your range ends: {wording.listed(rising)}.")
    if level:
        told.append(
            f"Level from there to where your range ends, so the nearest that does is taken: "
            f"{wording.listed(level)}."
        )
    return " ".join(told)


def borne_out(found: Redrawn) -> str:
    """Say how the fresh sample stands to what the search promised."""
    assert found.gained is not None
    gained = wording.gain_of_a_hundred(found.gained)
    at = "" if found.there.one_level else " at moments taken at random"
    text = (
        f"A fresh sample bears it out{at}: {gained} of 100 gained, where "
        f"{100 * found.promised:+.1f} were promised."
    )
    if found.halvings:
        times = "once" if found.halvings == 1 else f"{found.halvings} times"
        text += f" A longer move fell short of half its promise, and was halved {times}."
    return text


def not_moved_in_words(found: Redrawn) -> str:
    """Say why nothing is moved."""
    many, works = found.study.vocabulary.many, sampled(found.stated.works)
    if not found.tried:
        return (
            "No nominal has a range in which it may be drawn elsewhere, so none is moved; as "
            f"drawn {works} of 100 {many} work."
        )
    names = wording.listed([wording.in_words(slope.nominal.name) for slope in found.ranged])
    return (
        f"Leave as drawn what may be moved ({names}): nothing within its range makes one more of "
        f"100 {many} work, and as drawn {works} do.{physics(found.stated, many)} What is in the "
        "way is another nominal, a spread, a running condition or a doubt of the physics."
    )


def ranges_wanted(found: Redrawn) -> list[str]:
    """Ask for the range of the nominals whose small moves gain most; nothing where none gains."""
    wanted = [slope for slope in found.asked_for if 100 * slope.gained.value >= 0.5][:NAMED]
    if not wanted:
        return []
    listed = wording.listed(
        [
            f"{wording.in_words(slope.nominal.name)} ({small_move(found, slope)} gains "
            f"{wording.significant(100 * slope.gained.value, 2)})"
            for slope in wanted
        ]
    )
    at = "" if found.stated.one_level else " at moments"
    return [
        f"Not moved for want of a range, though a small move gains, of 100{at}: {listed}. Where "
        f"one may be drawn elsewhere, state it under [inputs.{wanted[0].nominal.name}]: redraw = "
        f"[{', '.join(_quoted(value, wanted[0]) for value in _around(wanted[0].nominal))}]."
    ]


def _quoted(value: float, slope: Slope) -> str:
    unit = slope.nominal.item.unit
    text = f"{value:.12g}"
    return f'"{text} {unit}"' if unit else text


def _around(nominal: Nominal) -> tuple[float, float]:
    """Two round ends about a nominal, for an example of a range, no further off than half of it."""
    reach = max(min(10.0 * nominal.move, 0.5 * abs(nominal.item.nominal)), nominal.move)
    step = 10.0 ** floor(log10(reach))
    low, high = nominal.item.nominal - reach, nominal.item.nominal + reach
    return float(f"{floor(low / step) * step:.6g}"), float(f"{ceil(high / step) * step:.6g}")


def small_move(found: Redrawn, slope: Slope) -> str:
    """Write the small move that gains: ``0.33 deg up``."""
    way = "up" if slope.gain.value >= 0.0 else "down"
    return f"{length(found, slope.nominal)} {way}"


def length(found: Redrawn, nominal: Nominal) -> str:
    """Write how long a small move is, with two digits."""
    unit, move = nominal.item.unit, nominal.move
    if found.study.units == "inch" and unit == "mm":
        return wording.with_unit(wording.significant(1000.0 * move / INCH, 2), "thou")
    # A difference of temperature is one of kelvins.
    unit = "K" if unit == "degC" else unit
    return wording.with_unit(wording.significant(move, 2), unit)


def range_in_words(found: Redrawn, nominal: Nominal) -> str:
    """Write where a nominal may be drawn, and by which steps; what to state where nothing says."""
    if not nominal.settings:
        return "no range stated" + ("" if nominal.item.nominal == 0.0 else ": redraw = [...]")
    stated = nominal.item.redraw
    if stated is not None and stated.sizes:
        texts = [wording.significant(size) for size in stated.sizes]
        return wording.with_unit(", ".join(texts), nominal.item.unit)
    low, high = nominal.settings[0], nominal.settings[-1]
    if stated is not None:
        low, high = stated.low, stated.high
    elif nominal.item.adjust is not None:
        low, high = nominal.item.adjust
    text = f"{setting(found, nominal, low)} to {setting(found, nominal, high)}"
    if stated is not None and stated.step is not None:
        text += f", by {with_its_unit(stated.step, nominal.item.unit)}"
    return text
