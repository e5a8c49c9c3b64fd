"""How the fuzz spoils a text: other values, keys, tables, letters, lines lost, doubled, swapped."""

from __future__ import annotations

import json
import random
import string
from collections.abc import Callable

JOINTS = ("", " ", "  ", "\t", "\u00a0", "\u2009", "*", "/", "^", "·", "\n", "\x00")
LETTERS = string.printable + "°µ²½×−″\u202e\u200b\ufeff\x00\x1b\U0001f525é０"


def _parts(text: str) -> list[str]:
    return text.strip().replace("\n", "|").split("|")


SPELLINGS = _parts("""
mm|cm|m|in|inch|inches|thou|mil|um|ft|deg|rad|°|degC|°C|degF|K|Pa|kPa|bar|mbar|psi|W|kW|ml|l|cm3
mm3|ml/min|l/h|g/min|kg|g|s|min|h|%|‰|1|turn|rpm|mmH2O|inH2O|N|kJ/kg|in²|"|'|″|km/h|mm2|mm^2
MM|IN|Thou|in.|”|''|deg C|SWG|swg|AWG|gauge|BA|BA tapping|x 40 ME clearance|drill|x 22 SWG|×
""")
NUMBERS = _parts("""
0|1|-1|+1|10|0.5|.5|5.|1e3|1e-9|1e400|-1e400|1e-400|nan|inf|-inf|1/2|1/0|0/1|3/-4|1_000|1,5|1.2.3
1e|0x10|007|9/8|5/32|1-1/2|1/2/3|½|１２|٣|−5|–|∞|1e+|9999999999999999999999|1 1/2|1 9/8|1  2|- 1
1½|⅞|22|60|7/0|No. 60|#60|No. 81|letter F|F|swg 22|1:50|1 : 0|1,500|±|± 2|+/- 2|ø3|№ 5|1⁄8
""")
NUMBERS.append("1" * 400)
VALUES = _parts("""
3|-1|0|0.25|1e400|-1e-320|inf|-inf|nan|true|1979-05-27|07:32:00|""|[]|{}|[[]]|0x1F|"10 mm"|"0 mm"
"-1 mm"|"5/0 in"|"nan mm"|"1 K"|"20 degC"|"-400 degC"|"50 %"|"x"|"H11"|"h9"|"m"|"normal"|"arcsine"
"triangular"|"build"|"steel_rule"|"log_uniform"|["8 mm", "13 mm"]|["13 mm", "8 mm"]|["1 mm"]
["a", "a"]|{ nominal = 3 }|"nowhere.csv:x_mm"|"../../a.csv:x"|"/dev/zero:x"|"\\u202e"|"\\u0000"
{ nominal = "10 mm", plus_minus = "1 mm" }|9223372036854775808
""")
VALUES.append("[" * 40 + "]" * 40)
WORDS = _parts("""
title|models|inputs|limits|correlations|sampling|schedule|nominal|plus_minus|between|shape|kind
seed|points|replicates|confidence|rank|at_least|at_most|group|adjust|basis|because|flat|mode|step
standard_deviation|lognormal|iso286|iso2768|process|samples|measured|instrument|coverage_factor
target_half_width|max_replicates|keeps|units|readings|hurts|redraw
""")


def a_text(rng: random.Random) -> str:
    """Put numbers, joints and units together, mostly wrongly."""
    parts = []
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        parts += [rng.choice(NUMBERS), rng.choice(JOINTS), rng.choice(SPELLINGS)]
        parts.append(rng.choice((*JOINTS, "", "", "")))
    return with_letters(rng, "".join(parts), rng.choice((0, 0, 1, 2, 4)))


def with_letters(rng: random.Random, text: str, count: int) -> str:
    """Put so many letters of any sort into a text, or in place of its own."""
    for _ in range(count):
        place = rng.randrange(len(text) + 1)
        text = text[:place] + rng.choice(LETTERS) + text[place + rng.randrange(2) :]
    return text


def a_value(rng: random.Random) -> str:
    """Choose a value of TOML: of any sort, or a quantity in quotes."""
    if rng.random() < 0.3:
        return json.dumps(a_text(rng))
    return rng.choice(VALUES)


def spoilt(rng: random.Random, text: str) -> str:
    """Spoil a text of TOML in one to six places."""
    return _spoilt(rng, text, SPOILERS)


def spoilt_table(rng: random.Random, text: str) -> str:
    """Spoil a CSV file, or JSON, in one to six places."""
    return _spoilt(rng, text, OF_TABLES)


Spoiler = Callable[[random.Random, list[str]], None]


def _spoilt(rng: random.Random, text: str, spoilers: tuple[Spoiler, ...]) -> str:
    lines = text.split("\n")
    for _ in range(rng.choice((1, 1, 2, 3, 6))):
        rng.choice(spoilers)(rng, lines)
        if not lines:
            break
    return "\n".join(lines)


def _another_value(rng: random.Random, lines: list[str]) -> None:
    place = _at(rng, lines, "=")
    lines[place] = f"{lines[place].partition('=')[0]}= {a_value(rng)}"


def _another_key(rng: random.Random, lines: list[str]) -> None:
    place = _at(rng, lines, "=")
    lines[place] = f"{rng.choice(WORDS)} ={lines[place].partition('=')[2]}"


def _one_more_key(rng: random.Random, lines: list[str]) -> None:
    lines.insert(rng.randrange(len(lines) + 1), f"{rng.choice(WORDS)} = {a_value(rng)}")


def _another_table(rng: random.Random, lines: list[str]) -> None:
    name = ".".join(
        rng.choice([*WORDS, "x", '""', '"a b"', "é"]) for _ in range(rng.choice((1, 2, 3)))
    )
    lines.insert(rng.randrange(len(lines) + 1), rng.choice((f"[{name}]", f"[[{name}]]")))


def _lost(rng: random.Random, lines: list[str]) -> None:
    del lines[rng.randrange(len(lines))]


def _doubled(rng: random.Random, lines: list[str]) -> None:
    place = rng.randrange(len(lines))
    lines.insert(place, lines[place])


def _swapped(rng: random.Random, lines: list[str]) -> None:
    one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]


def _letters(rng: random.Random, lines: list[str]) -> None:
    place = rng.randrange(len(lines))
    cut = rng.randrange(len(lines[place]) + 1)
    some = "".join(rng.choice(LETTERS) for _ in range(rng.choice((1, 1, 3))))
    lines[place] = lines[place][:cut] + some + lines[place][cut + rng.randrange(3) :]


def _repeated(rng: random.Random, lines: list[str]) -> None:
    place = rng.randrange(len(lines))
    lines[place] += rng.choice(("a.", "[", "{x=", " ", '"', "a = ", "'", "#", "\\")) * rng.choice(
        (50, 500, 2000)
    )


def _at(rng: random.Random, lines: list[str], sign: str) -> int:
    return rng.choice([n for n, line in enumerate(lines) if sign in line] or range(len(lines)))


def _another_cell(rng: random.Random, lines: list[str]) -> None:
    place = rng.randrange(len(lines))
    cells = lines[place].split(",")
    cells[rng.randrange(len(cells))] = rng.choice((a_text(rng), a_value(rng), *CELLS))
    lines[place] = rng.choice((",", ",", ",", ";", "\t")).join(cells)


CELLS = ("", "=1+1", "nan", "-0", "1e400", "1" * 500, '"', "0,5", "x" * 2000)

SPOILERS: tuple[Spoiler, ...] = (
    *(_another_value,) * 4, _another_key, _one_more_key, _another_table, _lost, _doubled,
    _swapped, _letters, _repeated,
)  # fmt: skip
OF_TABLES: tuple[Spoiler, ...] = (
    *(_another_cell,) * 4, _lost, _doubled, _swapped, _letters, _repeated,
)  # fmt: skip
