"""What stands before the steps of a protocol: names, verbs and floors of all its files.

A vocabulary and a room are taken from by hundreds of protocols. What they come to is worked out
once, and what a protocol declares is added to it. That gives what reading all files together would:
looking a name up depends on more being declared only where it was looked up in vain, or where all
things of a kind were asked for. Both are noted, and where one of them is among what the protocol
adds, the verb is read anew. Whatever else could matter is read together as if nothing were known.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

from protocol_lang.language import tree
from protocol_lang.language.declared import Declarations
from protocol_lang.language.floors import floors_of
from protocol_lang.language.sections import gather
from protocol_lang.language.sentences import Sentences
from protocol_lang.language.spaces import Missed, Told
from protocol_lang.language.steps import sentences_of
from protocol_lang.language.verbs import FormsSeen, resolve_verbs, verb_of, verbs_in
from protocol_lang.model.protocol import Floor
from protocol_lang.model.verbs import Frame, Verb

#: Rooms with their vocabularies of which it is known what they come to.
MOST_KEPT = 8

#: Sections that can change what files before theirs mean, whatever names are in them.
_TURNING = (tree.Kinds, tree.Parts, tree.Germs, tree.Levels, tree.Duty, tree.Spoiled)


@dataclass(frozen=True, slots=True)
class Ground:
    """What files come to but for steps. ``told``: what was found, and goes on to be gathered."""

    told: Told
    declared: Declarations
    verbs: tuple[Verb, ...]
    floors: tuple[Floor, ...]
    known: Sentences | None = None

    def sentences(self) -> Sentences:
        """The reader of sentences."""
        return self.known or sentences_of(self.verbs, self.declared, self.told)


def ground_of(files: Sequence[tree.File], told: Told) -> Ground:
    """The ground of the last file, with all that the files before it declare.

    ``told``: nothing has been told yet; what is found is in the ``told`` of what comes back.
    """
    shared = None if told.hazy or len(files) < 2 else _shared(files[:-1])
    grown = None if shared is None else shared.with_file(files[-1])
    if grown is not None:
        return grown
    declared = gather(files, told)
    verbs = resolve_verbs(files, declared, told)
    return Ground(told, declared, verbs, floors_of(files, declared, told))


@dataclass(frozen=True, slots=True)
class _Read:
    """A verb as it was read, and what was missed on the way."""

    node: tree.Verb
    frames: tuple[Frame, ...]
    verb: Verb
    missed: frozenset[Missed]


@dataclass(frozen=True, slots=True)
class _Shared:
    """What sound files come to. ``missed``: on the way to all but the verbs."""

    files: tuple[tree.File, ...]
    declared: Declarations
    forms: FormsSeen
    verbs: tuple[_Read, ...]
    floors: tuple[Floor, ...]
    missed: frozenset[Missed]
    sentences: Sentences

    def with_file(self, root: tree.File) -> Ground | None:
        """The same with one more file; None where it has to be read together with the others."""
        if any(isinstance(section, _TURNING) for section in root.sections):
            return None
        told = Told()
        declared = gather([root], told, self.declared)
        if not _is_sound(told):
            return None
        new = declared.beyond(self.declared)
        if not new.isdisjoint(self.missed):
            return None
        known = tuple(
            read.verb
            if new.isdisjoint(read.missed)
            else verb_of(read.node, read.frames, declared, told)
            for read in self.verbs
        )
        own = resolve_verbs([root], declared, told, dict(self.forms))
        floors = floors_of([root], declared, told)
        same = not own and not told.spoiled and not told.forms and not _names_more(new)
        return Ground(
            told,
            declared,
            (*known, *own),
            (*self.floors, *floors),
            self.sentences if same and known == self._verbs() else None,
        )

    def _verbs(self) -> tuple[Verb, ...]:
        return tuple(read.verb for read in self.verbs)


_kept: OrderedDict[tuple[int, ...], tuple[tuple[tree.File, ...], _Shared | None]] = OrderedDict()


def _shared(files: Sequence[tree.File]) -> _Shared | None:
    """What these files come to; None if anything is to be told of them.

    Files are told apart by being one object: each is read once in a process, and is kept here, so
    that no other can get its number.
    """
    key = tuple(map(id, files))
    found = _kept.get(key)
    if found is None:
        found = _kept[key] = (tuple(files), _worked_out(tuple(files)))
        if len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
    else:
        _kept.move_to_end(key)
    return found[1]


def _worked_out(files: tuple[tree.File, ...]) -> _Shared | None:
    told = Told()
    declared = gather(files, told)
    aside: set[Missed] = set()
    forms: FormsSeen = {}
    read = []
    for node, frames in verbs_in(files, declared, told, forms):
        missed: set[Missed] = set()
        declared.watch(missed)
        read.append(_Read(node, frames, verb_of(node, frames, declared, told), frozenset(missed)))
        declared.watch(None)
    declared.watch(aside)
    floors = floors_of(files, declared, told)
    declared.watch(None)
    if not _is_sound(told):
        return None
    sentences = sentences_of([one.verb for one in read], declared, told)
    return _Shared(files, declared, forms, tuple(read), floors, frozenset(aside), sentences)


def _is_sound(told: Told) -> bool:
    """Whether nothing is told, nor remembered of what was at fault."""
    return told == Told()


#: Sorts of names that no sentence of a step names.
_APART = frozenset({"choice", "mishap", "figure", "fact", "material", "product"})


def _names_more(new: set[Missed]) -> bool:
    """Whether sentences can name any of it."""
    return not all(sort in _APART for sort, _ in new)


__all__ = ["Ground", "ground_of"]
