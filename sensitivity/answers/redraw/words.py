"""Which nominals to draw elsewhere, and what then works, in shop words."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor, log10

from sensitivity.answers.calls_in_words import model_file_options
from sensitivity.answers.finalists import hurts_first, of_which, physics
from sensitivity.answers.levels import sampled
from sensitivity.answers.next_commands import Ask, next_in_words
from sensitivity.answers.redraw.find import Move, Redrawn
from sensitivity.presentation import wording
from sensitivity.presentation.units_said import factor_said, unit_said
from sensitivity.pricing.nominals import Nominal
from sensitivity.pricing.slopes import Slope

WIDE = 0.3
"""Width of the band of the physics from which a trial is worth more than a drawing."""
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
    if sizes := bought_in_words(found):
        text += f" {sizes}"
    return f"{text} {borne_out(found)}"


def move_in_words(found: Redrawn, move: Move) -> str:
    """Write where a nominal is drawn instead: ``rise at 8.5 mm, not 8 mm``."""
    name, drawn = wording.in_words(move.nominal.name), found.said.drawn(move.nominal.item)
    return f"{name} at {setting(found, move.nominal, move.to)}, not {drawn}"


def setting(found: Redrawn, nominal: Nominal, value: float) -> str:
    """Write a setting with its unit."""
    return found.said.of(nominal.name).text(value)


def bought_in_words(found: Redrawn) -> str:
    """Say what a size that can be bought costs: ``best at 1.02 mm; No. 60 loses 0.1 of 100``."""
    at = "" if found.there.one_level else " at moments taken at random"
    told = []
    for one in found.bought:
        name, size = wording.in_words(one.nominal.name), setting(found, one.nominal, one.size)
        if one.cost.low <= 0.0:
            told.append(f"As bought, {size}, {name} does as well as at any size about it.")
            continue
        best = replace(found.said.of(one.nominal.name), written=()).text(one.wanted)
        lost = wording.gain_of_a_hundred(one.cost).removeprefix("+")
        told.append(f"Best would be {name} at {best}: as bought, {size}, loses {lost} of 100{at}.")
    return " ".join(told)


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
            f"Level from there to the end of your range, so the nearest is taken: "
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
            "No nominal has a range in which it may be drawn elsewhere (redraw, beside it in the "
            f"study), so none is moved; as drawn {works} of 100 {many} work."
        )
    names = wording.listed([wording.in_words(slope.nominal.name) for slope in found.ranged])
    return (
        f"Leave as drawn what may be moved ({names}): no move within its range makes one more of "
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
        f"No range is stated, though a small move gains, of 100{at}, for: {listed}. Where "
        f"one may be drawn elsewhere, state it under [inputs.{wanted[0].nominal.name}]: redraw = "
        f"[{_range_to_state(found, wanted[0])}]."
    ]


def _range_to_state(found: Redrawn, slope: Slope) -> str:
    """Write two round ends about a nominal as a study states them, in its units."""
    item, units = slope.nominal.item, found.study.units
    unit, factor = unit_said(item.unit, units), factor_said(item.unit, units)
    ends = (f"{value:.12g}" for value in _around(slope.nominal, factor))
    return ", ".join(f'"{end} {unit}"' if unit else end for end in ends)


def _around(nominal: Nominal, factor: float) -> tuple[float, float]:
    """Two round ends about a nominal, in the unit that is said, for an example of a range.

    They are no further off than half of it.
    """
    move, drawn = factor * nominal.move, factor * nominal.item.nominal
    reach = max(min(10.0 * move, 0.5 * abs(drawn)), move)
    step = 10.0 ** floor(log10(reach))
    low, high = drawn - reach, drawn + reach
    return float(f"{floor(low / step) * step:.6g}"), float(f"{ceil(high / step) * step:.6g}")


def small_move(found: Redrawn, slope: Slope) -> str:
    """Write the small move that gains: ``0.33 deg up``."""
    way = "up" if slope.gain.value >= 0.0 else "down"
    return f"{length(found, slope.nominal)} {way}"


def length(found: Redrawn, nominal: Nominal) -> str:
    """Write how long a small move is, with two digits."""
    # A difference of temperature is one of kelvins.
    text = found.said.spread_of(nominal.name).rough(nominal.move)
    return text.replace("degC", "K").replace("°C", "K")


def range_in_words(found: Redrawn, nominal: Nominal) -> str:
    """Write where a nominal may be drawn, and by which steps; what to state where nothing says."""
    if not nominal.settings:
        return "no range stated"
    stated = nominal.item.redraw
    if stated is not None and stated.series:
        ends = (setting(found, nominal, end) for end in (stated.low, stated.high))
        return f"{stated.series}, {' to '.join(ends)}"
    if stated is not None and stated.sizes:
        return ", ".join(setting(found, nominal, size) for size in stated.sizes)
    low, high = nominal.settings[0], nominal.settings[-1]
    if stated is not None:
        low, high = stated.low, stated.high
    elif nominal.item.adjust is not None:
        low, high = nominal.item.adjust
    text = found.said.of(nominal.name).pair(low, high)
    if stated is not None and stated.step is not None:
        text += f", by {found.said.spread_of(nominal.name).text(stated.step)}"
    return text


def next_after_redrawing(found: Redrawn) -> str:
    """Say what to ask next where nothing is moved: what the physics does not know, by trials."""
    if found.moves:
        return (
            f"Next: draw it so in {found.study.name}.toml, and "
            f'"spiritlevel run {found.study.name}.toml{model_file_options(found.study)}" once more.'
        )
    band = found.stated.band
    if band is None or band.high.value - band.low.value < WIDE:
        return ""
    learn = Ask("learn", "narrows what the physics does not know", " --trials TRIALS.toml")
    return next_in_words(found.study, "redraw", learn)
