"""What was found, as facts only; the words are in :mod:`protocol_lang.wording`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from protocol_lang.text import Place


class Weight(Enum):
    """Whose move it is."""

    CORRECT = "to correct"
    CONSIDER = "to consider"


@dataclass(frozen=True, slots=True)
class RouteStep:
    """One row of a story: a step in the order in which the steps are done.

    ``visit`` counts from 1. ``moves``: what travels in this step, as (from, to) names; empty for a
    step that is listed only because the order matters.
    """

    visit: int
    person: str | None
    text: str
    place: Place | None
    moves: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Route:
    """How it comes about: the choices made, and the steps that matter, in order."""

    choices: tuple[tuple[str, str], ...]
    steps: tuple[RouteStep, ...]
    classes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change that the engine has tried and found to work, as facts for the wording."""

    kind: str
    facts: Mapping[str, str]
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to correct or to consider.

    ``kind``: a readable name ("unknown-word", "path-to-patient"); the wording and the explanation
    hang on it. ``facts``: what the wording fills in. ``place``: the words to change. ``others``:
    further places with the role each plays. ``context``: where in the author's structure
    ("step 4 in Place and expose").
    """

    kind: str
    place: Place | None
    facts: Mapping[str, str] = field(default_factory=dict)
    others: tuple[tuple[str, Place], ...] = ()
    context: str | None = None
    route: Route | None = None
    remedies: tuple[Remedy, ...] = ()
    weight: Weight = Weight.CORRECT


@dataclass(frozen=True, slots=True)
class Unchecked:
    """A part that was not checked, and why (``kind`` and ``facts`` as in a finding)."""

    kind: str
    facts: Mapping[str, str] = field(default_factory=dict)
    place: Place | None = None
