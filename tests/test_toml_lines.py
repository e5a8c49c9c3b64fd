"""Lines of keys, checked against texts whose lines are known because the test laid them."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensitivity.study.toml_lines import key_lines, line_of
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
}


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_lines_as_laid(ending):
    lines = key_lines(LAID.replace("\n", ending))
    assert {path: lines.get(path) for path in EXPECTED} == EXPECTED


def test_nothing_inside_text_is_taken_for_a_key():
    found = set(key_lines(LAID))
    assert not {path for path in found if set(path) & {"a", "b", "not", "nor", "it"}}


def test_line_of_what_is_missing_is_its_tables():
    lines = key_lines(LAID)
    assert line_of(lines, ("inputs", "hole", "kind")) == 12
    assert line_of(lines, ("correlations", 1, "inputs")) == 20
    assert line_of(lines, ("limits", "play")) is None


def test_table_stated_by_dotted_keys_has_the_line_of_its_first():
    lines = key_lines('title = "x"\ninputs.hole.nominal = "10 mm"\ninputs.hole.kind = "build"\n')
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
