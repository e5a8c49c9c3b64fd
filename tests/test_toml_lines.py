"""Lines of keys, checked against texts whose lines are known because the test laid them."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensitivity.study.toml_lines import (
    MOST_KEYS,
    MOST_NESTED,
    MOST_PARTS,
    first_lines,
    key_lines,
    line_of,
    outline,
)
from tests.strategies import GOOD, bare_keys

LAID = """\
# a remark = 1
title = "x"                       # 2
words = [                         # 3
  "a = 1",
  "[b]",
]
verse = '''                       # 7
[not.a.table]
nor = "a key"
'''
prose = \"\"\"one line\"\"\"      # 11
[inputs.hole]  # 12
nominal = "10 mm" # 13
  basis   =   "it = 5" # 14
"plus_minus" = "0.2 mm" # 15
[ inputs . 'pin' ] # 16
nominal.sub = 3 # 17
[[correlations]] # 18
rank = 0.5 # 19
[[correlations]] # 20
rank = 0.6 # 21
[correlations.deeper] # 22
because = "x" # 23
"""

EXPECTED = {
    ("title",): 2,
    ("words",): 3,
    ("verse",): 7,
    ("prose",): 11,
    ("inputs", "hole"): 12,
    ("inputs", "hole", "nominal"): 13,
    ("inputs", "hole", "basis"): 14,
    ("inputs", "hole", "plus_minus"): 15,
    ("inputs", "pin"): 16,
    ("inputs", "pin", "nominal", "sub"): 17,
    ("correlations", 0): 18,
    ("correlations", 0, "rank"): 19,
    ("correlations", 1): 20,
    ("correlations", 1, "rank"): 21,
    ("correlations", 1, "deeper"): 22,
    ("correlations", 1, "deeper", "because"): 23,
}


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_lines_as_laid(ending):
    lines = key_lines(LAID.replace("\n", ending))
    assert {path: lines.get(path) for path in EXPECTED} == EXPECTED


def test_nothing_inside_text_is_taken_for_a_key():
    found = set(key_lines(LAID))
    assert not {path for path in found if set(path) & {"a", "b", "not", "nor", "it"}}


def test_line_of_what_is_missing_is_its_tables():
    lines = first_lines(key_lines(LAID))
    assert line_of(lines, ("inputs", "hole", "kind")) == 12
    assert line_of(lines, ("correlations", 1, "inputs")) == 20
    assert line_of(lines, ("limits", "play")) is None


def test_table_stated_by_dotted_keys_has_the_line_of_its_first():
    text = 'title = "x"\ninputs.hole.nominal = "10 mm"\ninputs.hole.kind = "build"\n'
    lines = first_lines(key_lines(text))
    assert line_of(lines, ("inputs", "hole", "nominal")) == 2
    assert line_of(lines, ("inputs", "hole")) == 2
    assert line_of(lines, ("inputs", "hole", "shape")) == 2


@pytest.mark.parametrize("letter", ["\u2028", "\x85", "\u2029"])
def test_only_newlines_end_a_line(letter):
    # TOML 1.0: a newline is LF or CRLF; other line separators may stand in comments and strings.
    text = f'# a {letter} remark\ntitle = "x"\n'
    assert tomllib.loads(text) == {"title": "x"}
    assert key_lines(text)["title",] == 2


def test_every_key_of_a_good_study_is_found():
    def paths(table, above=()):
        for key, value in table.items():
            yield (*above, key)
            if isinstance(value, dict):
                yield from paths(value, (*above, key))

    lines = key_lines(GOOD)
    for path in paths(tomllib.loads(GOOD)):
        if path in {("inputs",), ("limits",)}:
            continue
        assert GOOD.splitlines()[lines[path] - 1].lstrip("[").startswith((path[-1], ".".join(path)))


@given(
    st.dictionaries(
        bare_keys,
        st.dictionaries(bare_keys, st.integers(0, 99), max_size=4),
        min_size=1,
        max_size=5,
    ),
    st.lists(st.sampled_from(["", "# remark", "   ", "\t# x = 1", "#[table]"]), max_size=6),
)
def test_laid_tables_with_remarks_between(tables, remarks):
    text, expected = [], {}
    for name, table in tables.items():
        text += [*remarks, f"[{name}]"]
        expected[name,] = len(text)
        for key, value in table.items():
            text += [*remarks, f"  {key} = {value} # {key} = 0"]
            expected[name, key] = len(text)
    assert tomllib.loads("\n".join(text)) == tables
    assert key_lines("\n".join(text)) == expected


# --- values of every sort -----------------------------------------------------------------------

VALUES = (
    'long = "' + "x" * 5000 + '" # 1\n'
    "after = 2026-05-27 07:32:00 # 2\n"
    """table = { nominal = "1 [mm]", between = ["1 mm", '2 #mm'] } # 3\n"""
    "rows = [ # 4\n"
    '  { inputs = ["a", "b"], rank = 0.5 }, # 5\n'
    "  # { nothing = 1 }\n"
    '  { inputs = ["c", "d"], "r\\u0061nk" = 0.6 } # 7\n'
    "] # 8\n"
    'quotes = """a \\""" = 1\nno = 2 """"" # 10\n'
    "last = 'x' # 11\n"
)


def test_keys_behind_and_inside_values_of_every_sort():
    content = tomllib.loads(VALUES)
    assert content["rows"][1]["rank"] == 0.6  # the text is what it is meant to be
    lines = key_lines(VALUES)
    assert lines == {
        ("long",): 1,
        ("after",): 2,
        ("table",): 3,
        ("table", "nominal"): 3,
        ("table", "between"): 3,
        ("rows",): 4,
        ("rows", 0, "inputs"): 5,
        ("rows", 0, "rank"): 5,
        ("rows", 1, "inputs"): 7,
        ("rows", 1, "rank"): 7,
        ("quotes",): 9,
        ("last",): 11,
    }


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("\n" + "".join(f"k{n} = 1\n" for n in range(MOST_KEYS + 1)), MOST_KEYS + 2, "keys"),
        ("\n\na" + ".a" * 100_000 + " = 1", 3, f"more than {MOST_PARTS} parts"),
        ("\n[a" + ".a" * 100_000 + "]", 2, f"more than {MOST_PARTS} parts"),
        ("x = 1\ny = " + "[" * 50_000, 2, f"more than {MOST_NESTED} deep"),
        ("x = " + "{a=" * 50_000, 1, f"more than {MOST_NESTED} deep"),
        ("\nx = 0x" + "f" * 5000, 2, "1,000 characters"),
        ("\nx = [1,\n0x" + "f" * 5000 + "]", 3, "1,000 characters"),
    ],
    ids=["keys", "parts", "parts of a table", "lists", "tables", "hexadecimal", "in a list"],
)
def test_what_no_study_has_so_much_of(text, line, says):
    problem, at = outline(text).too_much
    assert says in problem
    assert at == line


@given(st.text("ab.=[]{}\"'#\\\n ,1", max_size=60))
def test_any_text_is_walked_to_an_end(text):
    found = outline(text)
    assert all(1 <= line <= text.count("\n") + 1 for line in found.lines.values())
