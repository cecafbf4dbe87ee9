"""From a judged plan to the room picture: what meets what, and how far saliva can get.

Pure: the engine's answers in, records of the diagram out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from protocol_lang.checks.soil import SoilFindings
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.kernel import Amount
from protocol_lang.contamination.marks import Contact as Meeting
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.whereabouts import LATER, OWN, Whereabouts, whereabouts
from protocol_lang.diagram.room import Contact, Far, Kind, Room, Spot
from protocol_lang.findings import Finding, Remedy
from protocol_lang.model.parts import PersonKind, Start

_ORDER = (Far.SOURCE, Far.ONWARD, Far.TRACE, Far.ENDED, Far.NEVER)
#: The spot of all that a later patient is: drawn apart from the one whose saliva is followed.
_NEXT = "next patient"


def room_picture(unfolded: Unfolded, judgement: Judgement) -> Room:
    """The room of a protocol, over all orders and choices that were judged.

    Raises ValueError if no world was judged: after a misstep nothing can be claimed.
    """
    return _Room(unfolded, judgement, whereabouts(judgement)).room()


@dataclass(frozen=True, slots=True)
class Mended:
    """A protocol with changes made: those for what is told before a finding, and last its own."""

    unfolded: Unfolded
    judgement: Judgement
    changes: tuple[Remedy, ...]


def mended(unfolded: Unfolded, judgement: Judgement, finding: Finding) -> Mended | None:
    """The protocol with the first change that puts a finding about soil right; None: none does.

    What is told of further causes is told of a protocol in which the first are put right; so are
    the changes. A route tells one finding from the others.
    """
    changes: list[Remedy] = []
    for one, worked in SoilFindings(unfolded, judgement, mend=True).all():
        if worked:
            changes.append(worked[0].remedy)
        if one.route == finding.route:
            if not worked:
                return None
            return Mended(worked[0].unfolded, worked[0].judgement, tuple(changes))
    return None


class _Room:
    def __init__(self, unfolded: Unfolded, judgement: Judgement, where: Whereabouts) -> None:
        assert judgement.layout is not None
        self.unfolded = unfolded
        self.judgement = judgement
        self.layout = judgement.layout
        self.where = where
        protocol, plan = unfolded.protocol, unfolded.plan
        self.patients = {
            name for name, person in protocol.people.items() if person.kind is PersonKind.PATIENT
        }
        #: spot -> the id of what it is a part of
        self.of: dict[int, str] = {}
        for (owner, part), body in unfolded.bodies.items():
            person = owner in protocol.people
            whole = owner if not person or owner in self.patients else f"{owner}'s {part}"
            self.of[plan.bodies[body].spot] = whole
        for number, piece in enumerate(plan.pieces):
            thing = protocol.things.get(piece.kind)
            if thing is None or not thing.used_once:
                continue
            act = unfolded.pieces_made.get(number)
            who = unfolded.worn_at_start.get(number) if act is None else unfolded.acts[act].person
            whole = f"{who}'s {piece.kind}" if thing.worn_on is not None and who else piece.kind
            self.of.update(dict.fromkeys(piece.spots, whole))
        self.worn = {
            f"{person}'s {thing.name}"
            for person in protocol.people
            for thing in protocol.things.values()
            if thing.worn_on is not None
        }

        #: the spots that meet something
        self.touched = {spot for _, *pair in self._touches() for spot in pair}

    def room(self) -> Room:
        meeting = dict(self._meetings())
        touched = {end for pair in meeting for end in pair}
        spots: dict[str, Spot] = {}
        for spot, whole in self.of.items():
            far = self._far(spot)
            if whole not in touched and far is Far.NEVER:
                continue
            known = spots.get(whole)
            if known is None:
                spots[whole] = self._spot(whole, far)
            elif _ORDER.index(far) < _ORDER.index(known.far):
                spots[whole] = replace(known, far=far)
        for name in self.patients & spots.keys():
            spots[name] = replace(spots[name], far=Far.SOURCE)
        later, lines = self._of_next_patient()
        if self.patients & spots.keys():
            spots[_NEXT] = Spot("/next", _NEXT, Kind.NEXT, later, "any later one", person=True)
        ids = {spot.id for spot in spots.values()}
        contacts = [
            Contact(one, other, far)
            for (one, other), far in meeting.items()
            if one in ids and other in ids
        ]
        contacts += [Contact(one, "/next", far) for one, far in lines.items() if one in ids]
        return Room(
            self.unfolded.protocol.header.title,
            tuple(spots.values()),
            tuple(contacts),
            self._said(),
            self._soil(),
        )

    def _far(self, spot: int) -> Far:
        later = self.where.later(spot)
        if later is not None:
            return Far.ONWARD if later is Amount.FULL else Far.TRACE
        return Far.NEVER if self.where.own(spot) is None else Far.ENDED

    def _meetings(self) -> Iterator[tuple[tuple[str, str], Far]]:
        """Each pair that meets in some act, and the farthest that saliva gets in such an act."""
        found: dict[tuple[str, str], Far] = {}
        for act, source, goal in self._touches():
            one, other = sorted((self.of[source], self.of[goal]))
            far = Far.NEVER
            if self._passes(act, source, goal, LATER) and not self.patients & {one, other}:
                full = self.where.later(goal) is Amount.FULL
                far = Far.ONWARD if full else Far.TRACE
            elif self._passes(act, source, goal, OWN):
                far = Far.ENDED
            known = found.get((one, other), Far.NEVER)
            found[one, other] = min(known, far, key=_ORDER.index)
        return iter(found.items())

    def _of_next_patient(self) -> tuple[Far, dict[str, Far]]:
        """How far it gets to a later patient, and by the touch of what."""
        worst = Far.NEVER
        lines: dict[str, Far] = {}
        for act, source, goal in self._touches():
            if self.of[goal] not in self.patients or self.of[source] in self.patients:
                continue
            if self._passes(act, source, goal, LATER):
                full = self.where.later(goal) is Amount.FULL
                far = Far.ONWARD if full else Far.TRACE
                known = lines.get(self.of[source], Far.NEVER)
                lines[self.of[source]] = min(known, far, key=_ORDER.index)
                worst = min(worst, far, key=_ORDER.index)
        return worst, lines

    def _passes(self, act: int, source: int, goal: int, visit: bool) -> bool:
        """Whether soil is brought to ``goal`` in the act, and can be at ``source`` then.

        Where several touch at once, each that may have it counts.
        """
        return (act, goal, visit) in self.where.brought and (source, visit) in self.where.at

    def _touches(self) -> Iterator[tuple[int, int, int]]:
        """(act, from, to) of spots of two different things, in the worlds that were judged."""
        found: dict[tuple[int, int, int], None] = {}
        for act, courses in enumerate(self.layout.courses):
            for setting, moves in courses:
                if not setting.worlds & self.judgement.judged:
                    continue
                for move in moves:
                    if not isinstance(move, Meeting):
                        continue
                    for source, goals in move.onward.items():
                        for goal, _, _ in goals:
                            if self.of.get(source, "") != self.of.get(goal, ""):
                                found[act, source, goal] = None
        known = self.of
        return (one for one in found if one[1] in known and one[2] in known)

    def _spot(self, whole: str, far: Far) -> Spot:
        protocol = self.unfolded.protocol
        thing = protocol.things.get(whole)
        if whole in self.patients:
            return Spot(whole, whole, Kind.PATIENT, far, ", ".join(self._parts(whole)), person=True)
        if thing is None:
            return Spot(whole, whole, Kind.PEOPLE, far, person=True)
        notes = [f"in {thing.stands_in}"] if thing.stands_in else []
        if thing.starts_covered:
            notes.append(f"starts under {thing.starts_covered}")
        covered = [
            other.name
            for other in protocol.things.values()
            if whole in (cover for cover, _ in other.takes)
        ]
        if covered:
            notes.append(f"goes on {', '.join(covered)}")
        if whole in protocol.streams or thing.start in (Start.DIRTY, Start.CHEMICAL):
            kind = Kind.WASTE
            notes.append("meant for it" if whole in protocol.streams else "never clean")
        elif thing.start is Start.KEPT_CLEAN:
            kind = Kind.KEPT_CLEAN
        elif thing.kind == "surface":
            kind = Kind.SURFACE
        else:
            kind = Kind.IN_USE
        return Spot(whole, whole, kind, far, "; ".join(notes))

    def _soil(self) -> str:
        """What those parts of patients are full of that meet something in this protocol."""
        parts = {part for patient in self.patients for part in self._parts(patient)}
        found = {
            one.full_of: None
            for one in self.unfolded.protocol.body_parts
            if one.of is PersonKind.PATIENT and one.full_of and one.name in parts
        }
        return " or ".join(filter(None, found)) or "soil"

    def _parts(self, patient: str) -> list[str]:
        """The parts of a patient that meet something in this protocol."""
        bodies = self.unfolded.plan.bodies
        return [
            part
            for (owner, part), body in self.unfolded.bodies.items()
            if owner == patient and bodies[body].spot in self.touched
        ]

    def _said(self) -> str:
        told = []
        if self.judgement.judged != self.layout.worlds:
            told.append("Choices in which a step cannot be done are left out.")
        if self.judgement.ready != self.judgement.judged:
            told.append(
                "Where the room is not left as the next visit begins, nothing was followed on."
            )
        if self.where.undecided:
            told.append("What could not be decided is shown as reached.")
        return " ".join(told)
