"""The labelled drawing: every dimension of every model once, by its number, and legible."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from models.setting_out import SETTING_OUT
from models.shapes import Dimension, Leader
from sensitivity.presentation.labelled import blank_views, labelled_sheet, labelled_views
from sensitivity.study.file import read_study
from sensitivity.study.made import make_study
from sensitivity.system.catalogue import available_models, find_models, installed_points
from sensitivity.system.setting_out import decided, sketch_numbers
from sensitivity.system.system import wire
from tests.test_declared import WHOLE_BURNER

MODELS = sorted(installed_points())
TOGETHER = [
    ("stepped_pipe", "fuel_level"),
    ("bent_pipe", "pipe_room", "fuel_level", "wicks"),
    ("laid_pipe", "fuel_level"),
    ("tank_fill", "needle_valve", "stepped_pipe", "fuel_level", "wicks", "wick_supply"),
]


def system_of(*names):
    return wire(find_models(names, ()))


@pytest.mark.parametrize("names", [*((name,) for name in MODELS), *TOGETHER], ids="-".join)
def test_every_dimension_is_in_one_view_by_its_number(names):
    system = system_of(*names)
    labelled = [name for view in blank_views(system) for name in view.names]
    assert sorted(labelled) == sorted(q.name for q in system.inputs if decided(q))


def test_order_names_each_dimension_of_the_models_once():
    order = [name for _, names in SETTING_OUT.groups for name in names]
    assert len(order) == len(set(order))
    assert set(order) == {q.name for m in available_models() for q in m.arguments if decided(q)}


def test_numbers_go_from_the_sump_to_the_chimney():
    numbers = sketch_numbers(read_study(WHOLE_BURNER).system)
    assert sorted(numbers.values()) == list(range(1, len(numbers) + 1))
    way = ("breather_height", "run_1", "run_3", "wick_lip_height", "firebox_length", "tube_bore")
    assert [numbers[name] for name in way] == sorted(numbers[name] for name in way)


@pytest.mark.parametrize("names", TOGETHER, ids="-".join)
def test_a_dimension_is_drawn_as_long_as_it_is(names):
    """Between its ends, or as far apart as these are along or across, in mm.

    The laid pipe's sixth piece is turned 45 deg aside, and so seen shortened by its cosine.
    """
    system = system_of(*names)
    design = {q.name: q.default for q in system.inputs}
    design |= {name: float(value) for name, value in system.evaluate(dict(design)).items()}
    cut = {"feed_tube_length"}  # drawn cut short, and said to be
    units = {q.name: q.unit for q in system.inputs}
    tried = 0
    for view in SETTING_OUT.views:
        for shape in view.draw(design):
            if isinstance(shape, Dimension) and units.get(shape.name) == "mm":
                x, z = np.abs(np.subtract(shape.end, shape.start))
                long = {"": np.hypot(x, z), "above": x, "below": x}.get(shape.side, z)
                if shape.name not in cut:
                    seen = np.cos(np.radians(45.0)) if shape.name == "piece_6" else 1.0
                    assert long == pytest.approx(seen * design[shape.name], abs=1e-6), shape.name
                    tried += 1
    assert tried > 8


def boxes(svg):
    """Boxes of the labels of one view: circle and text or line to write on."""
    found = []
    for group in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}g"):
        if group.get("class") == "dimension":
            (back,) = [e for e in group if e.tag.endswith("rect")]
            left, top = float(back.get("x")), float(back.get("y"))
            right, bottom = left + float(back.get("width")), top + float(back.get("height"))
            found.append((group.get("data-input"), left, top, right, bottom))
    return found


@pytest.mark.parametrize("names", TOGETHER, ids="-".join)
def test_no_label_lies_on_another_or_leaves_the_view(names):
    for view in blank_views(system_of(*names)):
        there = boxes(view.svg)
        for place, (name, left, top, right, bottom) in enumerate(there):
            assert left >= 0.0, (view.title, name)
            assert right <= 360.0, (view.title, name)
            for other, x, y, far, low in there[place + 1 :]:
                apart = left >= far or x >= right or top >= low - 1.0 or y >= bottom - 1.0
                assert apart, (view.title, name, other)


def test_a_drawing_says_sizes_as_their_builder_wrote_them():
    study = make_study(
        models=["stepped_pipe", "fuel_level"],
        inputs={"breather_height": "31/64 in", "breather_wall": "22 thou", "reach": "4 1/8 in"},
        units="inch",
    )
    svg = "".join(view.svg for view in labelled_views(study))
    for size in ("31/64 in", "22 thou", "4 1/8 in"):
        assert size in svg
    assert " mm" not in re.sub(r"<title>.*?</title>", "", svg)


def test_what_is_nought_because_nobody_stated_it_has_no_label():
    study = make_study(models=["stepped_pipe", "fuel_level"], inputs={"lateral": "0 mm"})
    labelled = {name for view in labelled_views(study) for name in view.names}
    assert "lateral" in labelled
    assert not {"outlet_reach", "joint_error_1"} & labelled


def test_ids_of_two_drawings_on_a_page_differ():
    system = system_of("fuel_level")
    ids = [
        found
        for prefix in ("one-", "other-")
        for view in blank_views(system, prefix=prefix)
        for found in re.findall(r'id="([^"]*)"', view.svg)
    ]
    assert len(ids) == len(set(ids))


def test_a_sheet_holds_every_view_and_what_its_numbers_are():
    views = blank_views(system_of("stepped_pipe", "fuel_level"))
    sheet = labelled_sheet(views, "mine")
    ET.fromstring(sheet.encode())
    for view in views:
        assert view.title in sheet
        for number, words in view.legend:
            assert f"{number}</tspan> {words}</text>" in sheet


def test_a_view_that_has_no_dimension_of_the_study_is_left_out():
    assert [view.title for view in blank_views(system_of("tank_fill"))] == ["Tank"]


@pytest.mark.parametrize("bad", [float("nan"), 0.0, -5.0])
def test_an_impossible_size_leaves_the_other_views(bad):
    system = system_of("stepped_pipe", "fuel_level")
    design = {q.name: q.default for q in system.inputs} | {"sump_free_area": bad, "run_2": bad}
    for view in SETTING_OUT.views:
        shapes = view.draw(design)
        assert all(isinstance(s.name, str) for s in shapes if isinstance(s, Dimension))
        assert all(s.names for s in shapes if isinstance(s, Leader))
