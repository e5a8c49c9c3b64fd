"""The report: its story in order, its statements, and that every command's is of one family."""

import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from sensitivity.answers.assumptions import density_svg
from sensitivity.answers.doubts import hanging_on_doubts
from sensitivity.answers.run.document import run_body
from sensitivity.answers.run.find import Ran
from sensitivity.answers.run.report import run_page
from sensitivity.answers.run.silent_figures import left_out
from sensitivity.answers.run.statements import failing
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.plan import plan_run
from sensitivity.engine.result import PASS_FAIL, Index, assemble
from sensitivity.presentation.blocks import Figure
from sensitivity.presentation.labels import Label, place_labels
from sensitivity.presentation.page import inline_svg, render
from sensitivity.pricing.ranking import rank
from sensitivity.spreads.spread import bounded, lognormal, normal
from sensitivity.study.study import Input
from sensitivity.system.vocabulary import installed_vocabulary
from tests.conftest import invoke
from tests.strategies import GOOD

DEMO = Path(__file__).parents[1] / "studies" / "bramble" / "stepped_pipe.toml"
SVG = "{http://www.w3.org/2000/svg}"
VOID = {"meta", "br", "img", "link", "input", "hr"}

FIRST_PAGE = ["In short", "What to do", "What it hangs on", "Cautions"]
STORY = [
    "Results against the limits",
    "What matters",
    "Advice",
    "Spreads without a source",
    "Drawn to scale",
    "What was assumed",
    "What the physics does not know",
    "How sure this is",
    "How to repeat this",
]

DRAWING = '''
class Circle(NamedTuple):
    centre: tuple
    radius: float
    role: str


class Text(NamedTuple):
    at: tuple
    words: str
    name: str = ""


def pin_fit_drawing(design):
    """A pin in its hole, seen from the end."""
    return [
        Circle((0.0, 0.0), 0.5 * design["hole"], "part"),
        Circle((0.0, 0.0), 0.5 * design["pin"], "pin, a role of its own"),
        Text((0.0, 0.0), "pin <in> & hole", "play"),
    ]
'''


class Page(HTMLParser):
    """Elements with their attributes, sections with their words, and whether all is closed."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.elements, self.open, self.faults = [], [], []
        self.headings, self.sections, self.words = [], {"": []}, []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)
        if re.fullmatch("h[1-6]", tag):
            self.headings.append([int(tag[1]), ""])

    def handle_startendtag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)
        if tag == "h2":
            self.sections[self.headings[-1][1].strip()] = []

    def handle_data(self, data):
        if self.open and re.fullmatch("h[1-6]", self.open[-1]):
            self.headings[-1][1] += data
        if "style" not in self.open:
            self.words.append(data)
            next(reversed(self.sections.values())).append(data)

    def all(self, tag):
        return [attributes for name, attributes in self.elements if name == tag]

    def said(self, section=None):
        parts = self.words if section is None else self.sections[section]
        return " ".join("".join(parts).split())


def page_of(folder):
    return Page((folder / "report.html").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo, with few points: its folder and its document."""
    folder = tmp_path_factory.mktemp("demo") / "results"
    words = ["--seed", 1, "--replicates", 8, "--points", 512, "--workers", 1, "--keep-samples"]
    ran = invoke("run", DEMO, *words, "--out", folder)
    assert ran.exit_code == 0, ran.stderr
    return folder, json.loads((folder / "result.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def page(demo):
    return page_of(demo[0])


def well_formed(page):
    assert page.faults == []
    assert page.open == []
    found = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert sorted(set(found)) == sorted(found)
    levels = [level for level, _ in page.headings]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))
    links = [one["href"] for one in page.all("a")]
    assert all(link == "card.html" or link[1:] in found for link in links)
    for tag, attributes in page.elements:
        assert tag not in {"script", "link", "iframe", "object", "embed", "base", "form"}
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            if name in {"src", "srcset", "data", "action", "xlink:href", "poster"}:
                assert value.startswith(("#", "data:")), (tag, name)
    for svg in page.all("svg"):
        assert svg["role"] == "img"
        assert len(svg["aria-label"]) > 20
    assert len(page.all("caption")) == len(page.all("table")) > 0
    assert all(one["scope"] in {"col", "row"} for one in page.all("th"))


# --- the story of a run -------------------------------------------------------------------------


def test_story_is_told_in_order(page):
    well_formed(page)
    assert [text for level, text in page.headings if level == 2] == [*FIRST_PAGE, *STORY]
    assert page.all("html")[0]["lang"] == "en"


def test_report_is_small_and_asks_nobody_for_anything(demo, page):
    text = (demo[0] / "report.html").read_text(encoding="utf-8")
    assert len(text.encode()) < 2_000_000
    policy = next(one for one in page.all("meta") if "http-equiv" in one)
    assert policy["content"].startswith("default-src 'none'")
    assert "@import" not in text
    assert all(target.startswith("#") for target in re.findall(r"url\(\s*['\"]?([^)]*)", text))


def test_first_page_says_how_likely_what_to_do_and_what_it_hangs_on(demo, page):
    document, box = demo[1], page.said("In short")
    assert document["verdict"] in box
    broken = {
        name: 100 * (1 - output["yield"]["estimate"])
        for name, output in document["outputs"].items()
        if output["limit"] is not None
    }
    ordered = sorted((name for name in broken if broken[name] >= 0.5), key=lambda n: -broken[n])
    shares = [
        f"{broken[n]:.0f} of 100" if broken[n] >= 1.0 else f"{10 * broken[n]:.0f} of 1000"
        for n in ordered
    ]
    named = [name.replace("_", " ") for name in ordered]
    told = ", ".join(f"{name} in {share}" for name, share in zip(named, shares, strict=True))
    assert f"Of moments at random: {told} and the others in less than 5 of 1000." in box
    acts = page.said("What to do")
    reading = document["advice"]["readings"][0]
    assert reading["settled"]
    first, second, *_ = (row["name"] for row in document["advice"]["rows"])
    assert [document["advice"]["rows"][place]["advice"] for place in (0, 1)] == ["make closer"] * 2
    order = [
        acts.index(f"read {reading['name'].replace('_', ' ')} with a"),
        *(
            acts.index(f"make {name.replace('_', ' ')} twice as closely")
            for name in (first, second)
        ),
    ]
    assert order == sorted(order)
    doubts = {k: v for k, v in document["inputs"].items() if v["kind"] == "model"}
    largest = max(
        doubts, key=lambda n: document["sensitivity"]["meets_all_limits"][n]["total"]["estimate"]
    )
    assert f"first {largest.replace('_', ' ')}" in page.said("What it hangs on")
    assert "on nobody's figure" in page.said("What it hangs on") or "without a source" in page.said(
        "What it hangs on"
    )


def test_only_the_first_page_stands_open(page):
    """All that is behind it unfolds, and the drawing stands before what is to be done."""
    tags = [
        (tag, attributes.get("class"))
        for tag, attributes in page.elements
        if tag in {"figure", "details", "h2", "nav"}
    ]
    behind = [tag for tag, _ in tags[tags.index(("nav", None)) :]]
    assert tags[:3] == [("h2", None), ("figure", "views"), ("h2", None)]
    assert "details" not in [tag for tag, _ in tags[: tags.index(("nav", None))]]
    heads = [place for place, tag in enumerate(behind) if tag == "h2"]
    assert len(heads) == len(STORY)
    assert all(behind[place + 1] == "details" for place in heads)


NUMBER = r"(−?\d+(?:\.\d+)?)"


def numbers(text):
    return [float(one.replace("−", "-")) for one in re.findall(NUMBER, text)]


def test_card_stands_beside_the_report_and_says_what_gains_most(demo, page):
    assert "card.html" in [one["href"] for one in page.all("a")]
    text = (demo[0] / "card.html").read_text(encoding="utf-8")
    readings = [row for row in demo[1]["advice"]["readings"] if row["settled"]]
    told = text[text.index("Gauge and set") : text.index("It works if")]
    assert readings[0]["name"].replace("_", " ") in told
    manifest = json.loads((demo[0] / "manifest.json").read_text(encoding="utf-8"))
    assert {"card.html", "report.html"} <= set(manifest["files"])


def test_statements_are_those_of_the_document(demo, page):
    told = page.said("Results against the limits")
    for name, output in demo[1]["outputs"].items():
        if output["limit"] is None or output["standard_deviation"]["estimate"] == 0.0:
            continue
        words = name.replace("_", " ").capitalize()
        statement = told[told.index(f"{words}:") :].partition("). ")[0]
        end = 0 if output["limit"]["at_least"] is not None else 1
        if name == "air_lock_clears":  # 1 or 0, and said in words
            said = {1.0: "yes", 0.0: "no"}
            assert f"{said[output['nominal']]} as drawn" in statement
            assert f"worst case {said[output['worst_case'][end]]}; " in statement
        else:
            nominal, low, high, worst = numbers(statement.replace("95 %", ""))[:4]
            step = 0.051 if output["standard_deviation"]["estimate"] > 1.0 else 0.0051
            assert nominal == pytest.approx(output["nominal"], abs=step)
            assert low == pytest.approx(output["quantiles"]["0.025"], abs=step)
            assert high == pytest.approx(output["quantiles"]["0.975"], abs=step)
            assert worst == pytest.approx(output["worst_case"][end], abs=step)
        assert output["limit"]["because"] in statement
        share = output["yield"]
        shown = numbers(statement.rpartition(": ")[2])
        if share["estimate"] == 1.0:  # none failed: what is shown is the bound
            assert shown[0] == pytest.approx(100 * (1 - share["interval"][0]), rel=0.06)
            continue
        value, lower, upper = shown
        assert value == pytest.approx(100 * (1 - share["estimate"]), rel=0.06)
        assert lower <= 100 * (1 - share["interval"][1]) + 1e-9
        assert upper >= 100 * (1 - share["interval"][0]) - 1e-9


def test_doubts_stand_in_a_section_of_their_own(demo, page):
    told = page.said("What the physics does not know")
    table = told.partition("Model:")[0]
    names = {name: name.replace("_", " ") for name in demo[1]["inputs"]}
    # The longest names first: "rise" is not named by "bubble rise factor".
    for name in sorted(names, key=lambda one: -len(names[one])):
        assert (demo[1]["inputs"][name]["kind"] == "model") == (names[name] in table), name
        table = table.replace(names[name], "")
    assert "Plain hydrostatics" in told  # the models' own account


def test_what_to_do_follows_the_advice(demo, page):
    told = page.said("Advice")
    for lead, advice in (
        ("Make closer:", "make closer"),
        ("Good enough as stated:", "good enough as stated"),
    ):
        part = told[told.index(lead) :].partition(";")[0]
        for row in demo[1]["advice"]["rows"]:
            listed = re.split(", | and ", part.removeprefix(lead).strip())
            assert (row["name"].replace("_", " ") in listed) == (row["advice"] == advice)
    assert "spiritlevel window stepped_pipe.toml breather_height" in told


def test_how_to_repeat_it(demo, page):
    told = page.said("How to repeat this")
    assert "spiritlevel run stepped_pipe.toml --seed 1 --replicates 8 --points 512" in told
    assert " ".join(demo[1]["study"].split()) in told
    assert demo[1]["spiritlevel"] in told
    assert installed_vocabulary("spiritlevel").cautions in page.said("Cautions")


def test_every_input_is_drawn_small(demo, page):
    varying = [item for item in demo[1]["inputs"].values() if item["kind"]]
    doubts = [item for item in varying if item["kind"] == "model"]
    named = [svg["aria-label"] for svg in page.all("svg")]
    small = [name for name in named if name.startswith("spread of ")]
    assert len(small) == len(varying) + len(doubts)


# --- numbers that the report works out itself -----------------------------------------------------


def test_what_hangs_on_a_doubt_is_counted_from_the_burners(demo, page):
    """Lowest and highest fifth of a triangular doubt, by SciPy's distribution."""
    burners = pd.read_csv(demo[0] / "samples.csv.gz")
    item = demo[1]["inputs"]["cling_factor"]
    low, high = item["box"]
    triangle = stats.triang((item["nominal"] - low) / (high - low), low, high - low)
    told = page.said("What the physics does not know")
    row = told[told.index("cling factor 0.9") :]
    cells = re.findall(rf"{NUMBER} \({NUMBER} to {NUMBER}\)", row)[1:3]
    ends = (
        burners.cling_factor <= triangle.ppf(0.2),
        burners.cling_factor >= triangle.ppf(0.8),
    )
    for cell, rows in zip(cells, ends, strict=True):
        passed = burners.meets_all_limits[rows]
        value, lower, upper = map(float, cell)
        assert value == pytest.approx(100 * passed.mean(), abs=0.06)
        exact = stats.binomtest(int(passed.sum()), passed.size).proportion_ci(0.95)
        assert lower == pytest.approx(100 * exact.low, abs=0.11)
        assert upper == pytest.approx(100 * exact.high, abs=0.11)


def test_nothing_hangs_on_a_doubt_without_limits(read):
    study = read(GOOD[: GOOD.index("[limits.play]")] + GOOD[GOOD.index("[sampling]") :])
    result = assemble(study, plan := plan_run(study), run_replicates(plan, workers=1))
    assert hanging_on_doubts(result) == []


@pytest.mark.parametrize(
    ("spread", "reference"),
    [
        (normal(10.0, 0.5), stats.norm(10.0, 0.5)),
        (bounded("triangular", 2.0, 8.0, mode=3.0), stats.triang(1 / 6, 2.0, 6.0)),
        (bounded("trapezoidal", 0.0, 4.0, flat=0.5), stats.trapezoid(0.25, 0.75, 0.0, 4.0)),
        (lognormal(3.0, 0.12), stats.lognorm(np.sqrt(np.log1p(0.0144)), scale=3.0)),
        (bounded("log_uniform", 0.5, 12.5), stats.loguniform(0.5, 12.5)),
    ],
)
def test_small_curve_is_the_density(spread, reference):
    """Against SciPy's densities, each less than 2.5 times its mean height."""
    svg = density_svg(Input("size", "mm", "a size", spread.centre, spread))
    path, nominal = re.findall(r'd="M([^"]*)"', svg)
    points = np.array(numbers(path.replace("Z", ""))).reshape(-1, 2)[1:-1]
    middle = float(nominal.split()[0])
    low, high = reference.ppf([0.0015, 0.9985])
    if np.isfinite(reference.support()).all():
        low, high = reference.support()
    scale = (points[-1, 0] - points[0, 0]) / (high - low)
    x = low + (points[:, 0] - points[0, 0]) / scale
    assert middle == pytest.approx(points[0, 0] + scale * (spread.centre - low), abs=0.11)
    inside = (x > low + 0.02 * (high - low)) & (x < high - 0.02 * (high - low))
    expected = reference.pdf(x)
    expected = np.minimum(expected, 2.5 / (high - low))
    drawn = 29.0 - points[:, 1]
    assert drawn[inside] / drawn.max() == pytest.approx(expected[inside] / expected.max(), abs=0.02)


def test_failing_is_never_a_bare_zero_or_hundred():
    none = Proportion(1.0, 0.9964, 1.0, "clopper-pearson", 1024, 1024)
    assert failing(none) == "below 0.36 % (none of 1,024 failed)"
    every = Proportion(0.0, 0.0, 0.0036, "clopper-pearson", 0, 1024)
    assert failing(every) == "above 99.64 % (all of 1,024 failed)"
    some = Proportion(0.88, 0.8791, 0.8812, "student", 880, 1000)
    assert failing(some) == "12.0 % (11.8 to 12.1)"


def test_margins_in_inches_are_those_of_the_document_in_mm(run_study, tmp_path):
    text = f'units = "inch"\n{GOOD}'
    assert run_study(text, "--workers", 1).exit_code == 0
    folder = tmp_path / "study-results"
    play = json.loads((folder / "result.json").read_text(encoding="utf-8"))["outputs"]["play"]
    told = page_of(folder).said("Results against the limits")
    statement = told[told.index("Play:") : told.index("Lean:")]
    assert " mm" not in statement
    nominal, low, high, worst, limit = numbers(statement.replace("95 %", ""))[:5]
    expected = (play["nominal"], play["quantiles"]["0.025"], play["quantiles"]["0.975"])
    assert (nominal, low, high) == pytest.approx([one / 25.4 for one in expected], abs=0.0002)
    assert worst == pytest.approx(play["worst_case"][0] / 25.4, abs=0.0002)
    assert limit == pytest.approx(0.05 / 25.4, abs=0.0002)


# --- figures -------------------------------------------------------------------------------------


def test_results_of_a_run_have_axes_labels_and_limits(demo):
    words = " ".join(ET.parse(demo[0] / "figures" / "results.svg").getroot().itertext())
    for name, output in demo[1]["outputs"].items():
        varies = output["standard_deviation"]["estimate"] > 0.0
        if output["limit"] is not None:  # what does not vary has no histogram; the text says so
            assert (name.replace("_", " ") in words) == varies
    assert "at least 0" in words
    assert "share of burners, %" in words
    assert "mm" in words


@pytest.fixture(scope="module")
def drawing(demo):
    return ET.parse(demo[0] / "figures" / "drawing_fuel_level.svg").getroot()


def test_drawing_is_named_and_labelled(demo, drawing):
    title = drawing.find(f"{SVG}title").text
    words = ["".join(text.itertext()) for text in drawing.iter(f"{SVG}text")]
    for label in ("sump", "mouth of the breather", "obstacle", "wick lip", "fuel pipe"):
        assert label in title
        assert any(label in word for word in words)
    assert any("flood margin" in word for word in words)
    assert not any(word.startswith("On a gradient") for word in words)  # a figure of its own
    again = ET.parse(demo[0] / "figures" / "drawing_fuel_level_again.svg").getroot()
    assert again.find(f"{SVG}title").text.startswith("On a gradient")
    assert "path" not in {text.tag for text in drawing.iter(f"{SVG}text")}


def test_drawing_is_to_the_scale_of_its_bars(demo, drawing):
    """A bar says how long it is; the breather's height, drawn as a dimension, is so many bars."""
    children = list(drawing)
    places = [
        n for n, one in enumerate(children) if re.fullmatch(r"\d+ mm", "".join(one.itertext()))
    ]
    bar = children[places[0] - 1].get("d")
    left, right = float(re.match(r"M([\d.]+)", bar)[1]), float(re.search(r"H([\d.]+)", bar)[1])
    scale = (right - left) / float("".join(children[places[0]].itertext()).split()[0])
    upright = []
    for path in drawing.iter(f"{SVG}path"):
        if path.get("stroke-width") == "0.9":
            x1, y1, x2, y2 = numbers(path.get("d"))[:4]
            if x1 == x2:
                upright.append(abs(y2 - y1))
    assert scale * demo[1]["inputs"]["breather_height"]["nominal"] == pytest.approx(
        upright[0], abs=0.15
    )


def test_spread_is_shaded_by_many_burners(drawing):
    shaded = [group for group in drawing.iter(f"{SVG}g") if group.get("fill-opacity")]
    assert len(shaded) > 8
    # 40 are drawn; one that shuts in air at another place too has other shapes, and is left out.
    assert 38 <= max(len(list(group)) for group in shaded) <= 40
    assert all(float(group.get("fill-opacity")) < 0.2 for group in shaded)


@pytest.mark.parametrize("seed", [2, 26, 38])
def test_leaders_cross_neither_each_other_nor_dimensions(seed):
    """Ten anchors anywhere; whether two segments cross by the signs of four triangles.

    With these, two cross where only the length of leaders counts.
    """
    anchors = np.random.default_rng(seed).uniform((120.0, 80.0), (300.0, 150.0), (10, 2))
    labels = [Label((x, y), ("0.25 mm",)) for x, y in anchors.tolist()]
    dimensions = [np.array([[40.0, 60.0], [400.0, 60.0]])]
    placed = place_labels(labels, [], (0.0, 0.0, 420.0, 220.0), dimensions=dimensions)
    leaders = [np.array(one.leader) for one in placed]

    def side(line, point):
        (x1, y1), (x2, y2) = line
        return (x2 - x1) * (point[1] - y1) - (y2 - y1) * (point[0] - x1)

    for one, other in combinations([*leaders, *dimensions], 2):
        parted = side(one, other[0]) * side(one, other[1]) < 0
        assert not (parted and side(other, one[0]) * side(other, one[1]) < 0)


def test_labels_are_placed_clear_of_lines_and_of_each_other():
    rng = np.random.default_rng(3)
    paths = [np.array([[20.0, y], [680.0, y]]) for y in (120.0, 140.0)]
    labels = [
        Label((float(x), 130.0), (f"label {n}", "second line"))
        for n, x in enumerate(rng.uniform(60.0, 640.0, 9))
    ]
    placed = place_labels(labels, paths, (0.0, 0.0, 700.0, 300.0))
    for one, other in combinations(placed, 2):
        apart = one.right < other.left or other.right < one.left
        assert apart or one.bottom < other.top or other.bottom < one.top
    for one in placed:
        assert one.bottom < 120.0 or one.top > 140.0 or 120.0 < one.top < one.bottom < 140.0
        assert 0.0 <= one.left < one.right <= 700.0


@pytest.mark.parametrize("seed", range(4))
def test_labels_that_stop_counting_early_stand_where_all_places_are_counted(monkeypatch, seed):
    generator = np.random.default_rng(seed)
    paths = list(generator.uniform(0.0, 400.0, (30, 6, 2)))
    labels = [Label((x, y), ("rise", "10 mm")) for x, y in generator.uniform(60.0, 340.0, (12, 2))]
    frame = (0.0, 0.0, 400.0, 400.0)
    early = place_labels(labels, paths, frame, dimensions=paths[0][:2][None])
    monkeypatch.setattr("sensitivity.presentation.labels.AT_ONCE", 10_000)
    assert place_labels(labels, paths, frame, dimensions=paths[0][:2][None]) == early


def test_a_model_of_ones_own_brings_its_drawing(run_study, model_file, tmp_path):
    own = tmp_path / "own_pins.py"
    own.write_text(model_file.read_text(encoding="utf-8") + DRAWING, encoding="utf-8")
    ran = invoke("run", _written(tmp_path), "--model-file", own, "--workers", 1)
    assert ran.exit_code == 0, ran.stderr
    drawing = ET.parse(tmp_path / "study-results" / "figures" / "drawing.svg").getroot()
    assert "pin <in> & hole" in " ".join(drawing.itertext())
    circles = [one for one in drawing if one.tag == f"{SVG}circle"]
    hole, pin = (float(one.get("r")) for one in circles[:2])
    assert pin / hole == pytest.approx(9.8 / 10.0, abs=0.002)
    page = page_of(tmp_path / "study-results")
    well_formed(page)
    assert "A pin in its hole, seen from the end" in page.said("In short")  # on the first page


def _written(folder, text=GOOD):
    path = folder / "study.toml"
    path.write_text(text, encoding="utf-8")
    return path


SHAPES = """
class Line(NamedTuple):
    points: object
    role: str


class Area(NamedTuple):
    points: object
"""
WRONG = {
    "raise ValueError('no')": "raised ValueError: no",
    "return None": "raised TypeError",
    "return [3]": "a int; the shapes are Line",
    "return [Area(((0, 0), (1, 1)))]": "an Area without role",
    "return [Line('elsewhere', 'part')]": "a Line whose points is not in numbers of mm",
    "return [Line(((1, 2), (3,)), 'part')]": "a Line whose points is not in numbers of mm",
}


@pytest.mark.parametrize("body", WRONG)
def test_a_drawing_that_fails_is_named_and_left_out(model_file, at_home, body):
    own = at_home / "own_pins.py"
    text = f"\n\n{SHAPES}\n\ndef pin_fit_drawing(design):\n    {body}\n"
    own.write_text(model_file.read_text(encoding="utf-8") + text, encoding="utf-8")
    ran = invoke("run", _written(at_home), "--model-file", own, "--workers", 1)
    assert ran.exit_code == 0
    said = " ".join(ran.stderr.split())
    assert 'drawing of model "pin_fit"' in said
    assert WRONG[body] in said
    assert said.endswith("it is left out")
    assert "Traceback" not in said
    assert (at_home / "study-results" / "report.html").exists()
    assert not (at_home / "study-results" / "figures" / "drawing.svg").exists()


@pytest.fixture
def good_result(read):
    study = read()
    return assemble(study, plan := plan_run(study), run_replicates(plan, workers=1))


EMPTY = '<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0"/></svg>'


def ran(result):
    return Ran(result, rank(result), 0.0)


def test_an_index_of_few_flips_is_said_not_to_be_settled(good_result):
    bound = Estimate(0.001, 0.0, 0.0062)
    one = dict.fromkeys(["pin"], Index(bound, bound, settled=False))
    changed = replace(
        good_result,
        sensitivity={
            **good_result.sensitivity,
            PASS_FAIL: {**good_result.sensitivity[PASS_FAIL], **one},
        },
    )
    for result, count in ((good_result, 0), (changed, 3)):
        text = unescape(render(run_page(ran(result), {}, "spiritlevel run good.toml")))
        # In the ranking, and as the share alone and with others
        assert text.count("not settled, below 0.0062") == count
    document = run_body(ran(changed))
    assert document["sensitivity"][PASS_FAIL]["pin"]["settled"] is False
    assert document["sensitivity"][PASS_FAIL]["hole"]["settled"] is True


def test_flat_figure_is_left_out_with_a_sentence(good_result):
    nothing = Index(Estimate(0.0, -0.1, 0.1), Estimate(0.01, -0.1, 0.1))
    flat = dict.fromkeys(good_result.sensitivity[PASS_FAIL], nothing)
    changed = replace(good_result, sensitivity={**good_result.sensitivity, PASS_FAIL: flat})
    assert left_out(ran(good_result)) == {}
    sentence = left_out(ran(changed))["what_matters"]
    figures = {name: Figure(name, EMPTY, "a figure") for name in ("results", "what_matters")}
    for result, shown in ((good_result, True), (changed, False)):
        text = unescape(render(run_page(ran(result), figures, "spiritlevel run good.toml")))
        assert (sentence in text) is not shown
        assert text.count("<figcaption>") == (2 if shown else 1)


def test_figures_in_one_page_share_no_identifier():
    svg = (
        '<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" width="9">'
        "<title>one &amp; two</title><metadata>m</metadata><style>*{fill:red}</style>"
        '<g id="unused"><clipPath id="c"><rect/></clipPath></g><g clip-path="url(#c)"/>'
        '<use href="#c"/></svg>'
    )
    text = inline_svg(svg, "first", "words")
    assert 'id="first-c"' in text
    assert 'clip-path="url(#first-c)"' in text
    assert 'href="#first-c"' in text
    assert 'aria-label="one &amp; two"' in text
    for gone in ("unused", "<style", "<metadata", "<title", "<?xml"):
        assert gone not in text
    again = inline_svg(text, "first", "words")
    assert 'id="first-c"' in again


# --- the reports of the decisions -----------------------------------------------------------------

ADJUST = GOOD.replace('basis      = "drilled"', 'basis = "drilled"\nadjust = ["9.9 mm", "10.3 mm"]')
DECISIONS = {
    "window": (["hole"], [], "Parts that work against hole"),
    "window of two": (
        ["hole", "pin"],
        ["--step", "0.05 mm", "--step", "0.1 mm"],
        "Parts that work over hole",
    ),
    "measure": ([], ["--with", "digital_caliper"], "In which order to measure"),
    "tighten": ([], ["--target", "0.9"], "What to hold closer"),
    "redraw": ([], [], "What to draw elsewhere"),
    "built": (
        [],
        ["--measured", "pin=9.85 mm", "--with", "pin=digital_caliper"],
        "What matters now",
    ),
}


@pytest.mark.parametrize("name", DECISIONS)
def test_decisions_write_reports_of_the_same_family(name, model_file, at_home):
    words, options, heading = DECISIONS[name]
    ran = invoke(
        name.split()[0], _written(at_home, ADJUST), *words, *options,
        "--model-file", model_file, "--out", "found", "--workers", 1,
    )  # fmt: skip
    assert ran.exit_code == 0, ran.stderr
    page = page_of(at_home / "found")
    well_formed(page)
    titles = [text for level, text in page.headings if level == 2]
    assert titles[0] == "In short"
    assert titles[1].startswith(heading)
    assert titles[2:4] == FIRST_PAGE[-2:]
    assert titles[-4:] == STORY[-4:]
    document = json.loads((at_home / "found" / "result.json").read_text(encoding="utf-8"))
    assert document["verdict"] in page.said("In short")
    told = page.said("How to repeat this")
    command = re.search(r"and run (spiritlevel .*?) The same version", told)[1]
    for word in (*words, "--seed 1", "--replicates 8", "--points 64", "--model-file pins.py"):
        assert word in command
    for option in options:
        assert option in command.replace("'", "")
    figures = list((at_home / "found" / "figures").glob("*.svg"))
    assert len(page.all("figure")) == len(figures) >= 1


def test_comparison_writes_a_report_with_both_studies(model_file, at_home):
    one, other = at_home / "loose.toml", at_home / "close.toml"
    one.write_text(GOOD, encoding="utf-8")
    other.write_text(GOOD.replace('"0.2 mm"', '"0.15 mm"'), encoding="utf-8")
    ran = invoke(
        "compare", one, other, "--model-file", model_file, "--out", "found", "--workers", 1
    )
    assert ran.exit_code == 0, ran.stderr
    page = page_of(at_home / "found")
    well_formed(page)
    document = json.loads((at_home / "found" / "result.json").read_text(encoding="utf-8"))
    first, second = document["designs"]
    told = page.said("Results against the limits")
    for design in (first, second):
        assert f"{100 * design['yield']['estimate']:.1f} %" in told
    gain = 100 * second["difference_to_first"]["yield"]["estimate"]
    assert f"{gain:+.1f} points" in told
    assert "spiritlevel compare loose.toml close.toml" in page.said("How to repeat this")
    assert '"0.15 mm"' in page.said("How to repeat this")
    assert {path.name for path in (at_home / "found").glob("*.toml")} == {
        "loose.toml",
        "close.toml",
    }
