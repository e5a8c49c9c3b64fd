"""What trials teach of the physics, from part to part by a file: against the normal closed form.

Each part reads y = m + b + e with m ~ N(0, 0.5) the doubt, b ~ N(0, 0.3) the part's own and
e ~ N(0, 0.1) the gauge's. The precision of m grows by 1/(0.09 + 0.01) a part from 4, so its
deviation after n parts is 1/sqrt(4 + 10 n): 0.2672612, 0.1714986 and 0.0980581 after 1, 3 and 10;
and its mean is 10 sum(y) times that squared. By the file from part to part it must be the same.
"""

import json
from dataclasses import replace
from typing import Annotated, NamedTuple

import numpy as np
import pytest
from scipy import integrate, stats

import sensitivity as sl
from sensitivity.engine.plan import plan_run
from sensitivity.learning.kept_doubts import joined, kept_doubts, refuse_heard
from sensitivity.learning.observations import EventSeen, Trial, ValueSeen
from sensitivity.learning.posterior import posterior
from sensitivity.spreads.spread import mean, normal, quantile, share_below, standard_deviation
from sensitivity.study.doubts import Doubts, DoubtsError, read_doubts
from sensitivity.study.study import Limit

READ = (0.42, -0.13, 0.55, 0.31, 0.07, 0.66, 0.12, 0.48, -0.21, 0.35)


class Seen(NamedTuple):
    height: Annotated[float, "mm", "height of the part"]


def settles(
    sag: Annotated[float, "mm", "what nobody has measured", "model"] = 0.0,
    lean: Annotated[float, "mm", "another such thing", "model"] = 0.0,
    own: Annotated[float, "mm", "the part's own"] = 0.0,
) -> Seen:
    """A part that sags."""
    return Seen(sag + 0.5 * lean + own)


def study_in(folder, doubts=None, lean=None, sag="0.5 mm", own="0.3 mm"):
    inputs = {
        "sag": sl.normal("0 mm", standard_deviation=sag, kind="model"),
        "own": sl.normal("0 mm", standard_deviation=own),
    }
    if lean is not None:
        inputs["lean"] = sl.normal("0 mm", standard_deviation=lean, kind="model")
    return sl.Study(
        models=[settles],
        inputs=inputs,
        limits=[sl.limit("height", at_most="2 mm")],
        doubts=doubts,
        folder=folder,
        sampling={"seed": 2, "replicates": 16, "points": 1024},
    )


def seen(number):
    return Trial(f"part {number}", "", {}, (ValueSeen("height", READ[number], normal(0.0, 0.1)),))


def learnt_of(folder, numbers, lean=None):
    """Teach the file of one part after the other, and read the last study."""
    name = None
    for number in numbers:
        study = study_in(folder, name, lean)
        plan = plan_run(study, indices=False)
        kept = kept_doubts(study, plan, posterior(plan, [seen(number)], believe=True))
        name = "physics.json"
        (folder / name).write_text(kept.to_json(), encoding="utf-8")
    return study_in(folder, name, lean)


def exact(count):
    precision = 4.0 + 10.0 * count
    return 10.0 * sum(READ[:count]) / precision, precision**-0.5


@pytest.mark.parametrize(
    ("parts", "printed"), [(1, 0.2672612), (3, 0.1714986), (10, 0.0980581)], ids=str
)
def test_doubt_narrows_from_part_to_part(tmp_path, parts, printed):
    middle, deviation = exact(parts)
    assert deviation == pytest.approx(printed, abs=5e-8)
    study = learnt_of(tmp_path, range(parts))
    (sag,) = [item for item in study.inputs if item.name == "sag"]
    # Each part's sample adds to what the next begins with: a percent or so of its deviation.
    assert standard_deviation(sag.spread) == pytest.approx(deviation, rel=0.03)
    assert mean(sag.spread) == pytest.approx(middle, abs=0.06 * deviation)
    assert study.doubts.trials == tuple(f"part {n}" for n in range(parts))
    assert sag.stated.endswith(f"narrowed by {parts} trial{'s' if parts > 1 else ''}")


class ThreeSeen(NamedTuple):
    first: Annotated[float, "mm", "height of one part"]
    second: Annotated[float, "mm", "height of the next"]
    third: Annotated[float, "mm", "height of the last"]


def three_settle(
    sag: Annotated[float, "mm", "what nobody has measured", "model"] = 0.0,
    own_1: Annotated[float, "mm", "the first part's own"] = 0.0,
    own_2: Annotated[float, "mm", "the second part's own"] = 0.0,
    own_3: Annotated[float, "mm", "the third part's own"] = 0.0,
) -> ThreeSeen:
    """Three parts that sag alike."""
    return ThreeSeen(sag + own_1, sag + own_2, sag + own_3)


def test_by_the_file_as_jointly(tmp_path):
    """Three parts at once, each with an own of its own, teach what the file has after three."""
    own = sl.normal("0 mm", standard_deviation="0.3 mm")
    study = sl.Study(
        models=[three_settle],
        inputs={
            "sag": sl.normal("0 mm", standard_deviation="0.5 mm", kind="model"),
            **{f"own_{n}": own for n in (1, 2, 3)},
        },
        limits=[sl.limit("first", at_most="2 mm")],
        sampling={"seed": 2, "replicates": 16, "points": 1024},
    )
    plan = plan_run(study, indices=False)
    read = zip(("first", "second", "third"), READ, strict=False)
    trial = Trial("all", "", {}, tuple(ValueSeen(n, y, normal(0.0, 0.1)) for n, y in read))
    jointly = kept_doubts(study, plan, posterior(plan, [trial], believe=True))
    one_by_one = learnt_of(tmp_path, range(3)).doubts
    assert jointly.mean == pytest.approx(one_by_one.mean, abs=0.03)
    deviations = [np.sqrt(each.covariance[0, 0]) for each in (jointly, one_by_one)]
    assert deviations[0] == pytest.approx(deviations[1], rel=0.04)
    assert not jointly.quantiles


def test_doubt_that_is_no_normal_is_kept_as_it_is(tmp_path):
    """Seen over 0 mm: sag ~ N(0, .5) given sag + own > 0, own ~ N(0, .1), is all but half a normal.

    With s^2 = .26 its mean is .25/s sqrt(2/pi), and P(sag < x) = 2 int phi(m/.5) Phi(m/.1) dm, by
    quadrature. What a next study draws must have these quantiles.
    """
    study = study_in(tmp_path, own="0.1 mm")
    study = replace(study, limits=(Limit("height", "mm", at_most=0.0),))
    plan = plan_run(study, indices=False)
    trial = Trial("over", "", {}, (EventSeen("height", broken=True),))
    kept = kept_doubts(study, plan, posterior(plan, [trial]))
    assert set(kept.quantiles) == {"sag"}
    (tmp_path / "physics.json").write_text(kept.to_json(), encoding="utf-8")
    (sag,) = [i for i in study_in(tmp_path, "physics.json").inputs if i.name == "sag"]
    assert mean(sag.spread) == pytest.approx(0.25 / np.sqrt(0.26) * np.sqrt(2 / np.pi), abs=0.01)

    def below(x):
        def chance(m):
            return 2.0 * stats.norm.pdf(m, scale=0.5) * stats.norm.cdf(m / 0.1)

        return integrate.quad(chance, -1.0, x, limit=200)[0]

    for u in (0.05, 0.25, 0.5, 0.75, 0.95):
        (x,) = quantile(sag.spread, np.array([u]))
        assert below(x) == pytest.approx(u, abs=0.02)
        assert share_below(sag.spread, np.array([x]))[0] == pytest.approx(u, abs=1e-6)


def test_two_doubts_are_kept_with_what_they_have_in_common(tmp_path):
    """sag ~ N(0, .5), lean ~ N(0, .8), read sag + lean/2 + N(0, sqrt(.1)): gain K = C h/(hCh + .1).

    The scores' covariance is D^-1 (C - K h C) D^-1; a study that takes the file samples it so.
    """
    c, h = np.diag([0.25, 0.64]), np.array([1.0, 0.5])
    gain = c @ h / (h @ c @ h + 0.1)
    after = c - np.outer(gain, h @ c)
    scale = np.diag([1 / 0.5, 1 / 0.8])
    study = learnt_of(tmp_path, [0], lean="0.8 mm")
    doubts = study.doubts
    assert doubts.names == ("sag", "lean")
    assert doubts.covariance == pytest.approx(scale @ after @ scale, abs=0.02)
    assert doubts.mean == pytest.approx(scale @ gain * READ[0], abs=0.03)
    plan = plan_run(study)
    # What is tied is reported together, and so no index is refused.
    assert not plan.refused
    assert [group.inputs for group in plan.groups] == [("sag", "lean"), ("own",)]
    rows = posterior(plan, [])
    sampled = np.cov(*(rows.values[name].ravel() for name in doubts.names))
    assert sampled == pytest.approx(after, abs=0.02)


def test_what_is_kept_of_other_doubts_follows(tmp_path):
    """Of two joint scores, one learnt of further: the other follows by regression.

    Covariance [[1, .8], [.8, 1]]; the second becomes N(1, .5): the first has mean .8 and variance
    1 - .64 (1 - .25) = .52, and the covariance is .8 * .25 = .2.
    """
    stated = {"a": normal(0.0, 1.0), "b": normal(0.0, 1.0)}
    both = Doubts(
        "", ("a", "b"), stated, ("one",), np.zeros(2), np.array([[1, 0.8], [0.8, 1]]), 4e3
    )
    fresh = Doubts("", ("b",), {"b": stated["b"]}, ("two",), np.ones(1), np.array([[0.25]]), 2e3)
    found = joined(both, fresh)
    assert (found.names, found.trials) == (("a", "b"), ("one", "two"))
    assert found.mean == pytest.approx([0.8, 1.0])
    assert found.covariance == pytest.approx(np.array([[0.52, 0.2], [0.2, 0.25]]))
    assert found.effective_rows == 2e3


def test_trial_heard_already_is_refused(tmp_path):
    study = learnt_of(tmp_path, [0])
    with pytest.raises(sl.SpiritlevelError, match=r"heard already, in physics\.json"):
        refuse_heard(study, (seen(0),))
    refuse_heard(study, (seen(1),))


def test_changed_statement_is_refused(tmp_path):
    learnt_of(tmp_path, [0])
    study_in(tmp_path, "physics.json")
    with pytest.raises(sl.SpiritlevelError, match='the spread of "sag" is not the one stated'):
        study_in(tmp_path, "physics.json", sag="0.6 mm")


def test_file_is_read_back_the_same(tmp_path):
    doubts = learnt_of(tmp_path, [0, 1], lean="0.8 mm").doubts
    again = read_doubts(doubts.to_json())
    assert (again.names, again.trials, again.stated) == (doubts.names, doubts.trials, doubts.stated)
    assert np.array_equal(again.covariance, doubts.covariance)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda c: c.pop("mean"), "should have the keys"),
        (lambda c: c.update(doubts=2), "another form"),
        (lambda c: c.update(mean=[0.0, 1.0, 2.0]), "mean: should be numbers"),
        (lambda c: c.update(covariance=[[1.0, 2.0], [2.0, 1.0]]), "positive definite"),
        (lambda c: c.update(covariance=[[1.0, 0.5], [0.2, 1.0]]), "symmetric"),
        (lambda c: c.update(trials=["a", "a"]), "each once"),
        (lambda c: c.update(effective_rows=0), "above 0"),
        (lambda c: c.update(quantiles={"sag": [0.0] * 33}), "ascending"),
        (lambda c: c.update(quantiles={"sag": [0.0, 1.0]}), "should be numbers"),
        (lambda c: c.update(quantiles={"other": []}), "of some of the names"),
        (lambda c: c["stated"]["sag"].update(shape="learnt"), "no such shape"),
        (lambda c: c["stated"]["sag"].update(low=9.0), "low should be below high"),
        (lambda c: c["stated"].pop("sag"), "the spread of each name"),
    ],
)
def test_file_that_is_none(tmp_path, change, says):
    content = json.loads(learnt_of(tmp_path, [0], lean="0.8 mm").doubts.to_json())
    change(content)
    with pytest.raises(DoubtsError, match=says):
        read_doubts(json.dumps(content))
    (tmp_path / "physics.json").write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(sl.SpiritlevelError, match=r"doubts: physics\.json"):
        study_in(tmp_path, "physics.json", lean="0.8 mm")


@pytest.mark.parametrize("name", ["../physics.json", "/physics.json", "none.json", ""])
def test_only_a_file_of_the_studys_own_folder_is_read(tmp_path, name):
    home = tmp_path / "home"
    home.mkdir()
    learnt_of(tmp_path, [0])
    with pytest.raises(sl.SpiritlevelError, match="doubts"):
        study_in(home, name)
