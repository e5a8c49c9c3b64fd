"""What the parts are called: the models' own trade brings its words, the engine has none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from functools import lru_cache
from importlib.metadata import EntryPoint

from sensitivity.errors import ModelFileError, nearest
from sensitivity.system.catalogue import Model, distribution_of
from sensitivity.system.installed import brought_by, points_of
from sensitivity.system.loading import load

VOCABULARY_GROUP = "spiritlevel.vocabulary"


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The words in printed sentences; by default those for anything that is made.

    Attributes
    ----------
    one, many : str
        What is made: "burner", "burners".
    use, used, unused : str
        To put one to use, and one that is or is not: "light", "lit", "unlit".
    cautions : str
        What to heed before acting on a result.
    """

    one: str = "part"
    many: str = "parts"
    use: str = "use"
    used: str = "used"
    unused: str = "unused"
    cautions: str = (
        "These results are estimates from stated assumptions and models, not a proof of safety. "
        "Whether a part is fit and safe for its use is for a competent person to judge."
    )


NEUTRAL = Vocabulary()


def vocabulary_of(models: Iterable[Model]) -> Vocabulary:
    """Find the words of the first installed model whose distribution brings any.

    Parameters
    ----------
    models : iterable of Model
        Those of a study. Models from files of the user's own bring no words.

    Returns
    -------
    Vocabulary
        ``NEUTRAL`` where none of them is installed with words.

    Raises
    ------
    ModelFileError
        Where what is installed as a vocabulary is none.
    """
    for model in models:
        name = distribution_of(model)
        found = installed_vocabulary(name) if name else None
        if found is not None:
            return found
    return NEUTRAL


@lru_cache(maxsize=32)
def installed_vocabulary(distribution: str) -> Vocabulary | None:
    """Read the vocabulary that an installed distribution brings; None if it brings none."""
    for point in points_of(VOCABULARY_GROUP):
        if brought_by(point) == distribution:
            return _read(load(point), point)
    return None


def _read(words: object, point: EntryPoint) -> Vocabulary:
    where = f'vocabulary "{point.name}" ({point.value})'
    if not isinstance(words, Mapping):
        raise ModelFileError(f"{where}: found {type(words).__name__}; should be a mapping of words")
    known = {field.name for field in fields(Vocabulary)}
    for key, word in words.items():
        if key not in known:
            raise ModelFileError(f"{where}: unknown word {key!r}; {nearest(str(key), known)}")
        if not isinstance(word, str) or not word.strip():
            raise ModelFileError(f"{where}: {key} should be text")
    return Vocabulary(**words)
