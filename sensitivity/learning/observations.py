"""What was seen of one finished part: values read with an instrument, limits broken or kept.

A trial is one occasion: what is stated of it is held, and the running conditions that are not
stated vary, drawn apart for each trial. Readings on the bench are a trial too, in which whatever
they depend on besides the part is held.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from sensitivity.errors import CallError, nearest
from sensitivity.spreads.spread import Spread
from sensitivity.system.system import System


@dataclass(frozen=True, slots=True)
class ValueSeen:
    """A value that was read.

    Attributes
    ----------
    result : str
        What was read: a result of the system, or an input of it.
    value : float
        The reading, in its unit.
    error : Spread
        How the reading may be out: reading less truth, about 0, in that unit.
    words : str
        The reading as it was written; empty where it is none of a person's.
    """

    result: str
    value: float
    error: Spread
    words: str = ""


@dataclass(frozen=True, slots=True)
class EventSeen:
    """A limit that was seen to be broken, or kept.

    Attributes
    ----------
    result : str
        The result whose limit it is.
    broken : bool
        A point at which the models have no answer counts as broken.
    """

    result: str
    broken: bool


Seen = ValueSeen | EventSeen


@dataclass(frozen=True)
class Trial:
    """One occasion on which something was seen.

    Attributes
    ----------
    identifier : str
        Its own; what was learnt from it is counted once.
    title : str
        In words.
    held : mapping of str to float
        Inputs that were as stated, each in its unit: conditions, or what was set for the trial.
    seen : tuple of ValueSeen or EventSeen
    """

    identifier: str
    title: str = ""
    held: Mapping[str, float] = field(default_factory=dict)
    seen: tuple[Seen, ...] = ()


def check_trials(system: System, limited: Iterable[str], trials: Sequence[Trial]) -> None:
    """Refuse trials that name what there is not, or have one identifier between them.

    Parameters
    ----------
    system : System
        Whose inputs and results they are of.
    limited : iterable of str
        Results that have a limit.
    trials : sequence of Trial
        What was seen.

    Raises
    ------
    CallError
        With all faults.
    """
    inputs = {item.name for item in system.inputs}
    read, limited = inputs | {item.name for item in system.results}, set(limited)
    faults = []
    for trial in trials:
        where = f"trial {trial.identifier}"
        if not trial.seen:
            faults.append(f"{where}: nothing was seen")
        for name in trial.held:
            if name not in inputs:
                faults.append(f'{where}: no input "{name}" to hold; {nearest(name, inputs)}')
        for one in trial.seen:
            if isinstance(one, ValueSeen) and one.result not in read:
                faults.append(f'{where}: no result "{one.result}"; {nearest(one.result, read)}')
            if isinstance(one, EventSeen) and one.result not in limited:
                faults.append(
                    f'{where}: "{one.result}" has no limit; {nearest(one.result, limited)}'
                )
    names = [trial.identifier for trial in trials]
    twice = sorted({name for name in names if names.count(name) > 1})
    faults += [f"trial {name} stands there twice" for name in twice]
    if faults:
        raise CallError("; ".join(faults))
