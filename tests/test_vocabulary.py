"""Words of the trade: the models bring them, the engine has none of its own."""

from importlib.metadata import EntryPoint

import pytest

from sensitivity.errors import ModelFileError
from sensitivity.system import vocabulary
from sensitivity.system.catalogue import find_models
from sensitivity.system.system import wire
from sensitivity.system.vocabulary import NEUTRAL, vocabulary_of
from tests.strategies import MODELS


def test_models_of_the_house_bring_their_words():
    words = wire(find_models(("stepped_pipe", "fuel_level"), ())).vocabulary
    assert (words.one, words.many, words.used, words.unused) == (
        "burner", "burners", "lit", "unlit",
    )  # fmt: skip
    assert words.cautions.startswith("Spirit burns")
    assert "not a proof of safety" in words.cautions


def test_models_from_a_file_alone_are_parts(model_file):
    words = wire(find_models(("pin_fit",), (str(model_file),))).vocabulary
    assert words == NEUTRAL
    assert (words.one, words.many) == ("part", "parts")
    assert "not a proof of safety" in words.cautions
    assert "pirit" not in words.cautions


def test_file_joined_to_models_of_the_house_speaks_as_they_do(model_file):
    models = find_models(("pin_fit", "fuel_level"), (str(model_file),))
    assert vocabulary_of(models).one == "burner"


def test_namesake_from_a_file_brings_no_words_of_the_house(tmp_path):
    path = tmp_path / "mine.py"
    path.write_text(MODELS.replace("def pin_fit", "def fuel_level"))
    assert vocabulary_of(find_models(("fuel_level",), (str(path),))) == NEUTRAL


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"onne": "cup"}, '"one"'),
        ({"one": ""}, "one should be text"),
        ({"one": 3}, "one should be text"),
        (["cup"], "should be a mapping"),
    ],
)
def test_vocabulary_that_is_none(words, says):
    point = EntryPoint("cups", "cups.words:WORDS", vocabulary.VOCABULARY_GROUP)
    with pytest.raises(ModelFileError, match=says) as refused:
        vocabulary._read(words, point)
    assert "cups.words:WORDS" in str(refused.value)


def test_some_words_will_do():
    point = EntryPoint("cups", "cups.words:WORDS", vocabulary.VOCABULARY_GROUP)
    found = vocabulary._read({"one": "cup", "many": "cups"}, point)
    assert (found.one, found.many, found.cautions) == ("cup", "cups", NEUTRAL.cautions)
