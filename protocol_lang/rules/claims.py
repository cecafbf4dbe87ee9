"""What a rule claims of the state, in the terms of a plan: a kind stands for one, or for each."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from protocol_lang.contamination.kernel import AllOf, AnyOf, FactIs, IsWet, LayerHas, Not, Outer
from protocol_lang.contamination.kernel import Claim as PlanClaim
from protocol_lang.model.conditions import (
    AnySo,
    Claim,
    EverySo,
    FactHolds,
    IsCovered,
    IsDry,
    NotSo,
)
from protocol_lang.model.refs import OfPatient, OfPerson, OfThing, Ref
from protocol_lang.rules.happenings import Binding, Happenings

_FALSE = AnyOf(())


class CannotBeAsked(Exception):
    """The claim is of a sort that rules do not ask for; ``what`` says which."""

    def __init__(self, what: str) -> None:
        super().__init__(what)
        self.what = what


def settled(claim: Claim, happenings: Happenings, binding: Binding) -> PlanClaim:
    """The claim about this plan; raises :class:`CannotBeAsked`.

    A kind that the sentence of the rule has bound means that one. Of any other the whole claim is
    made once for each of it: "staff does not wear gloves" of everybody. Of what covers something,
    any will do.
    """
    free = [
        name
        for name in dict.fromkeys(_subjects(claim))
        if name in happenings.kinds and name not in binding
    ]
    ways = product(*(happenings.members(name) for name in free))
    return AllOf(
        tuple(
            _Settler(happenings, {**binding, **dict(zip(free, way, strict=True))}).settle(claim)
            for way in ways
        )
    )


def _subjects(claim: Claim) -> Iterator[str]:
    """The names of whom and what a claim is about."""
    match claim:
        case FactHolds(_, OfPerson(name) | OfThing(name)):
            yield name
        case IsCovered(OfPerson(name) | OfThing(name)) | IsDry(OfPerson(name) | OfThing(name)):
            yield name
        case NotSo(part):
            yield from _subjects(part)
        case EverySo(parts) | AnySo(parts):
            for part in parts:
                yield from _subjects(part)
        case _:
            pass


class _Settler:
    def __init__(self, happenings: Happenings, binding: Binding) -> None:
        self.happenings = happenings
        self.unfolded = happenings.unfolded
        self.binding = binding

    def settle(self, claim: Claim) -> PlanClaim:
        match claim:
            case FactHolds(fact, subject):
                return AllOf(tuple(self._fact(fact, name) for name in self._names(subject)))
            case IsCovered(what, cover):
                return AllOf(tuple(self._covered(body, cover) for body in self._bodies(what)))
            case IsDry(what):
                wet = self._bodies(what)
                return AllOf(
                    tuple(
                        Not(IsWet(number))
                        for number, treatment in enumerate(self.unfolded.plan.treatments)
                        if any(isinstance(t, Outer) and t.body in wet for t in treatment.targets)
                    )
                )
            case NotSo(IsCovered(what, None)):
                return AllOf(tuple(Not(self._covered(one, None)) for one in self._bodies(what)))
            case NotSo(part):
                return Not(self.settle(part))
            case EverySo(parts):
                return AllOf(tuple(self.settle(part) for part in parts))
            case AnySo(parts):
                return AnyOf(tuple(self.settle(part) for part in parts))
            case _:
                raise CannotBeAsked(type(claim).__name__)

    def _named(self, name: str) -> tuple[str, ...]:
        bound = self.binding.get(name)
        return (bound,) if bound is not None else self.happenings.members(name)

    def _names(self, subject: Ref | None) -> tuple[str | None, ...]:
        match subject:
            case None:
                return (None,)
            case OfPerson(person):
                return self._named(person)
            case OfThing(thing):
                return self._named(thing)
            case _:
                raise CannotBeAsked("fact")

    def _fact(self, fact: str, subject: str | None) -> PlanClaim:
        number = self.unfolded.facts.get((fact, subject))
        return _FALSE if number is None else FactIs(number, value=True)

    def _bodies(self, ref: Ref) -> set[int]:
        match ref:
            case OfPerson(name, part) | OfThing(name, part):
                owners = self._named(name)
            case OfPatient(part):
                owners = self._named("patient")
            case _:
                raise CannotBeAsked("part")
        return {
            body
            for (owner, own), body in self.unfolded.bodies.items()
            if owner in owners and part in (None, own)
        }

    def _covered(self, body: int, cover: str | None) -> PlanClaim:
        plan = self.unfolded.plan
        kinds = None if cover is None else set(self._named(cover))
        return AnyOf(
            tuple(
                LayerHas(
                    layer,
                    frozenset(
                        piece
                        for piece, record in enumerate(plan.pieces)
                        if kinds is None or record.kind in kinds
                    ),
                )
                for layer in plan.bodies[body].layers
            )
        )


__all__ = ["CannotBeAsked", "settled"]
