"""A tree printed again, in one canonical form.

Two blanks of indentation, four for the lines under a step (so that they stand under its sentence);
one blank line between sections, never two in a row; one blank between words; the author's order.
Comments and the author's blank lines stay. What is printed reads as the same tree, and printing
that again gives the same text.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from protocol_lang.findings import Finding
from protocol_lang.language import tree
from protocol_lang.language.reader import read
from protocol_lang.language.tree import BLANK, Remarks, Words
from protocol_lang.text import Text, Unreadable, decode


@dataclass(frozen=True, slots=True)
class Neat:
    """The new text of a file, ready to be written; or None, and what to correct before."""

    text: str | None
    findings: tuple[Finding, ...] = ()


def neaten(text: Text) -> Neat:
    """A file in canonical form.

    A file with faults is not touched. The result is read again and compared before it is given out:
    nothing that a protocol says can change (or the result would go over a limit on size, which is
    then the finding).
    """
    reading = read(text)
    if reading.findings:
        return Neat(None, reading.findings)
    neat = printed(reading.file)
    try:
        again = read(decode(neat.encode(), text.file))
    except Unreadable as error:
        return Neat(None, (Finding(error.kind, None, error.facts),))
    if again.findings:
        return Neat(None, again.findings)
    assert again.file == reading.file, "printing changed what a file says"
    return Neat(neat)


def printed(file: tree.File) -> str:
    """The text of a tree. Raises :class:`ValueError` when a line of it is spoiled."""
    page = _Page()
    if file.title is not None:
        page.line(0, f"{file.kind} {_quoted(file.title)}", file.remarks)
        for line in file.header:
            page.line(2, _header_line(line), line.remarks)
        page.comments(2, file.end)
    for section in file.sections:
        page.gap()
        _section(page, section)
    if file.closing:
        page.gap()
        page.comments(0, file.closing)
    return "".join(f"{line}\n" for line in page.lines)


@dataclass(slots=True)
class _Page:
    lines: list[str] = field(default_factory=list)

    def line(self, indent: int, text: str, remarks: Remarks) -> None:
        self.comments(indent, remarks.above)
        if remarks.beside is not None:
            text = f"{text}  {_comment(remarks.beside)}"
        self.lines.append(" " * indent + text)

    def comments(self, indent: int, comments: Iterable[str]) -> None:
        for comment in comments:
            self.lines.append("" if comment == BLANK else " " * indent + _comment(comment))

    def gap(self) -> None:
        if self.lines:
            self.lines.append("")


def _comment(comment: str) -> str:
    return f"# {comment}" if comment else "#"


def _quoted(words: Words) -> str:
    return f'"{words.plain}"'


def _listed(words: Iterable[Words]) -> str:
    return ", ".join(word.plain for word in words)


def _spoiled(node: object) -> ValueError:
    return ValueError(f"nothing is printed of {type(node).__name__}")


# --- Header and remarks --------------------------------------------------------------------------


def _header_line(node: tree.HeaderLine) -> str:
    match node:
        case tree.Edition(number=number):
            return f"edition {number}"
        case tree.InForce(day=day):
            return f"in force from {day.isoformat()}"
        case tree.ReviewBy(day=day):
            return f"review by {day.isoformat()}"
        case tree.Owner(who=who):
            return f"owner {who.plain}"
        case tree.TakesWords(titles=titles):
            return f"takes words from {', '.join(map(_quoted, titles))}"
        case tree.Then(title=title):
            return f"then {_quoted(title)}"
        case tree.Follows():
            return "follows another protocol"
        case tree.PartsOfDay(role=role, titles=titles):
            opener = "beside the visits" if role == "beside" else role
            return f"{opener} {', '.join(map(_quoted, titles))}"
        case tree.ExamplesIn(titles=titles):
            return f"examples in {', '.join(map(_quoted, titles))}"
        case tree.Source() | tree.Note():
            return _remark(node)
        case tree.Adapts(title=title, edition=number, fingerprint=fingerprint):
            pinned = "" if fingerprint is None else f" fingerprint {fingerprint.plain}"
            return f"adapts {_quoted(title)} edition {number}{pinned}"
        case tree.ToSettle():
            return _settle(node)
        case _:
            raise _spoiled(node)


def _settle(node: tree.ToSettle) -> str:
    return f"to settle {_quoted(node.text)}"


def _remark(node: tree.Note | tree.Source | tree.Short) -> str:
    return f"{type(node).__name__.lower()} {_quoted(node.text)}"


def _remark_lines(page: _Page, indent: int, nodes: Iterable[tree.Node]) -> None:
    for node in nodes:
        if not isinstance(node, tree.Note | tree.Source | tree.Short):
            raise _spoiled(node)
        page.line(indent, _remark(node), node.remarks)


def _phase_lines(page: _Page, nodes: Iterable[tree.Node]) -> None:
    for node in nodes:
        if isinstance(node, tree.RunsOn):
            page.line(2, RUNS_ON, node.remarks)
        else:
            _remark_lines(page, 2, (node,))


#: Under a phase: nobody waits for its end.
RUNS_ON = "may run into the next visit"


# --- Conditions and claims -----------------------------------------------------------------------


_WithIs = tree.ChoiceIs | tree.Covered | tree.Bare | tree.Dry | tree.Clean | tree.FactIs


def _condition(node: tree.Condition) -> str:
    match node:
        case tree.ChoiceIs(choice=choice, value=value):
            return f"{choice.plain} {_is(node)} {value.plain}"
        case tree.Joined(spread=True):
            return "all of" if node.every else "any of"
        case tree.Joined(parts=parts):
            return (" and " if node.every else " or ").join(map(_condition, parts))
        case _:
            return _claim(node)


def _condition_lines(page: _Page, indent: int, node: tree.Condition | None) -> None:
    """The lines under ``where all of`` or ``where any of``, if it is one of them."""
    if isinstance(node, tree.Joined) and node.spread:
        for part in node.parts:
            page.line(indent, _condition(part), part.remarks)
            _condition_lines(page, indent + 2, part)
            if isinstance(part, tree.Joined):
                page.comments(indent + 2, part.end)


def _is(
    node: tree.ChoiceIs | tree.Covered | tree.Bare | tree.Dry | tree.Clean | tree.FactIs,
) -> str:
    return ("are" if node.plural else "is") + (" not" if node.negated else "")


def _claim(node: tree.Claim) -> str:
    match node:
        case tree.Covered(what=what, cover=cover):
            with_cover = "" if cover is None else f" with {cover.plain}"
            return f"{what.plain} {_is(node)} covered{with_cover}"
        case tree.Bare(what=what):
            return f"{what.plain} {_is(node)} bare"
        case tree.Dry(what=what):
            return f"{what.plain} {_is(node)} dry"
        case tree.Clean(what=what, of_others=of_others):
            of = " of other patients" if of_others else ""
            return f"{what.plain} {_is(node)} clean{of}"
        case tree.Wears(who=who, cover=cover):
            return f"{who.plain} {_wears(node)} {cover.plain}"
        case tree.FactIs(what=what, fact=fact, since=since):
            if what is None:
                said = f"not {fact.plain}" if node.negated else fact.plain
            else:
                said = f"{what.plain} {_is(node)} {fact.plain}"
            return said if since is None else f"{said} since {since.plain}"
        case tree.JoinedClaims(spread=True):
            return "all of" if node.every else "any of"
        case tree.JoinedClaims(parts=parts):
            return (" and " if node.every else " or ").join(map(_claim, parts))
        case _:
            raise _spoiled(node)


def _wears(node: tree.Wears) -> str:
    if node.negated:
        return "do not wear" if node.plural else "does not wear"
    return "wear" if node.plural else "wears"


def _claim_lines(page: _Page, indent: int, node: tree.Claim) -> None:
    if isinstance(node, tree.JoinedClaims) and node.spread:
        for part in node.parts:
            page.line(indent, _claim(part), part.remarks)
            _claim_lines(page, indent + 2, part)
            if isinstance(part, tree.JoinedClaims):
                page.comments(indent + 2, part.end)


def _only_when(page: _Page, indent: int, node: tree.OnlyWhen) -> None:
    page.line(indent, f"only when {_claim(node.claim)}", node.remarks)
    _claim_lines(page, indent + 2, node.claim)
    page.comments(indent + 2, node.end)


# --- The checklist -------------------------------------------------------------------------------


def _items(page: _Page, indent: int, items: Iterable[tree.Item]) -> None:
    for item in items:
        match item:
            case tree.Step():
                _step(page, indent, item)
            case tree.Where():
                for position, branch in enumerate(item.branches):
                    _branch(page, indent, branch, "otherwise" if position else None)
            case tree.SideBySide():
                page.line(indent, "side by side", item.remarks)
                for lane in item.lanes:
                    if not isinstance(lane, tree.Lane):
                        raise _spoiled(lane)
                    page.line(indent + 2, lane.person.plain, lane.remarks)
                    _items(page, indent + 4, lane.items)
                    page.comments(indent + 4, lane.end)
                page.comments(indent + 2, item.end)
            case tree.InOrder() | tree.AnyOrder() | tree.InOneGo():
                page.line(indent, _heading_of(item), item.remarks)
                _items(page, indent + 2, item.items)
                page.comments(indent + 2, item.end)
            case tree.Either():
                for position, way in enumerate(item.ways):
                    page.line(indent, "or" if position else "either", way.remarks)
                    _items(page, indent + 2, way.items)
                    page.comments(indent + 2, way.end)
            case tree.MayBeLeftOut() | tree.ForEach() | tree.TimeOnly():
                page.line(indent, _repeat_heading(item), item.remarks)
                _items(page, indent + 2, item.items)
                page.comments(indent + 2, item.end)
            case tree.Again(label=label, most=most):
                times = "time" if most == 1 else "times"
                page.line(indent, f"again from {label.plain}, at most {most} {times}", item.remarks)
            case _:
                raise _spoiled(item)


def _repeat_heading(item: tree.MayBeLeftOut | tree.ForEach | tree.TimeOnly) -> str:
    match item:
        case tree.MayBeLeftOut(when=when):
            return "may be left out" if when is None else when.plain
        case tree.ForEach(name=name, least=least, most=most):
            return f"for each {name.plain}, {least} to {most}"
        case tree.TimeOnly(first=first):
            return "first time only" if first else "last time only"


def _heading_of(item: tree.InOrder | tree.AnyOrder | tree.InOneGo) -> str:
    match item:
        case tree.InOrder():
            return "in order"
        case tree.InOneGo():
            return "in one go"
        case _:
            return "any order, mixed" if item.mixed else "any order"


def _branch(page: _Page, indent: int, branch: tree.Branch, opening: str | None) -> None:
    words = [] if opening is None else [opening]
    if branch.condition is not None:
        words += ["where", _condition(branch.condition)]
    page.line(indent, " ".join(words), branch.remarks)
    _condition_lines(page, indent + 2, branch.condition)
    _items(page, indent + 2, branch.items)
    page.comments(indent + 2, branch.end)


def _step(page: _Page, indent: int, step: tree.Step) -> None:
    label = "" if step.label is None else f"{step.label.plain}: "
    sentence = step.does.plain if isinstance(step.does, Words) else f"say: {step.does.text.plain}"
    page.line(indent, f"[ ] {label}{sentence}", step.remarks)
    under = indent + 4
    for line in step.lines:
        match line:
            case tree.OnlyWhen():
                _only_when(page, under, line)
            case tree.Sets():
                page.line(under, _sets(line), line.remarks)
            case tree.After(labels=labels):
                page.line(under, f"after {_listed(labels)}", line.remarks)
            case tree.Lasts():
                page.line(under, _lasts(line), line.remarks)
            case _:
                _remark_lines(page, under, (line,))
    page.comments(under, step.end)


def _lasts(node: tree.Lasts) -> str:
    upto = "" if node.most is None else f" to {node.most.plain}"
    unit = "minute" if node.minutes else "second"
    one = node.most is None and node.least.plain == "1"
    return f"takes {node.least.plain}{upto} {unit}{'' if one else 's'}"


def _sets(node: tree.Sets) -> str:
    return f"{'sets' if node.value else 'ends'} {node.fact.plain}"


# --- Sections ------------------------------------------------------------------------------------


def _section(
    page: _Page, section: tree.Section, before: str = "", settle: Iterable[tree.ToSettle] = ()
) -> None:
    """``before``: words before the heading; ``settle``: what stands first under it."""
    if isinstance(section, tree.Instead):
        _section(page, section.section, "instead of ", section.settle)
        return
    page.line(0, before + section_heading(section), section.remarks)
    if isinstance(section, tree.Without | tree.PhasesBeside):
        settle = section.settle
    for asked in settle:
        page.line(2, _settle(asked), asked.remarks)
    match section:
        case tree.ChangesIn(lines=changes):
            for change in changes:
                _change(page, change)
        case tree.PhasesBeside(phases=phases):
            for phase in phases:
                inner = _Page()
                _section(inner, phase)
                page.lines += (f"  {text}" if text else "" for text in inner.lines)
        case tree.Phase():
            _phase_lines(page, section.lines)
            _items(page, 2, section.items)
        case tree.Verb():
            for verb_line in section.lines:
                _verb_line(page, verb_line)
        case tree.Levels(lines=lines):
            for level in lines:
                page.line(2, _line(level), level.remarks)
                _under(page, level)
        case tree.Products(lines=products):
            for product in products:
                page.line(2, _line(product), product.remarks)
                _under(page, product)
        case tree.Floors(lines=floors):
            _condition_lines(page, 2, section.condition)
            for floor in floors:
                page.line(2, _line(floor), floor.remarks)
                _under(page, floor)
        case tree.Leaves(lines=claims):
            for claim in claims:
                page.line(2, _line(claim), claim.remarks)
                if isinstance(claim, tree.LeavesLine):
                    _claim_lines(page, 4, claim.claim)
                    if isinstance(claim.claim, tree.JoinedClaims):
                        page.comments(4, claim.claim.end)
        case tree.Air(lines=told):
            for air_line in told:
                page.line(2, _line(air_line), air_line.remarks)
                if isinstance(air_line, tree.Carries):
                    _condition_lines(page, 4, air_line.condition)
        case tree.FoundOut(lines=found):
            for fact in found:
                page.line(2, _line(fact), fact.remarks)
                if isinstance(fact, tree.FoundOutLine):
                    for verb_line in fact.lines:
                        page.line(4, _effect(verb_line), verb_line.remarks)
                    page.comments(4, fact.end)
        case tree.CanHappen(lines=mishaps):
            for mishap in mishaps:
                page.line(2, _line(mishap), mishap.remarks)
                if isinstance(mishap, tree.Mishap):
                    _remark_lines(page, 4, mishap.lines)
                    _items(page, 4, mishap.items)
                    page.comments(4, mishap.end)
        case tree.Waiver(lines=waiver_lines):
            for waives in waiver_lines:
                if not isinstance(waives, tree.WaiverLine):
                    raise _spoiled(waives)
                page.line(2, waives.words.plain, waives.remarks)
        case tree.Rule(lines=rule_lines):
            _rule_lines(page, 2, rule_lines)
        case tree.Spoiled():
            raise _spoiled(section)
        case _:
            for line in section.lines:
                page.line(2, _line(line), line.remarks)
    page.comments(2, section.end)


def _change(page: _Page, change: tree.Change | tree.ToSettle | tree.Spoiled) -> None:
    if isinstance(change, tree.ToSettle):
        page.line(2, _settle(change), change.remarks)
        return
    if not isinstance(change, tree.Change):
        raise _spoiled(change)
    page.line(2, change_heading(change), change.remarks)
    _items(page, 4, change.items)
    for line in change.lines:
        match line:
            case tree.Lasts():
                page.line(4, _lasts(line), line.remarks)
            case tree.Labelled(name=name):
                page.line(4, f"label {name.plain}", line.remarks)
            case tree.ToSettle():
                page.line(4, _settle(line), line.remarks)
            case _:
                _remark_lines(page, 4, (line,))
    page.comments(4, change.end)


def change_heading(change: tree.Change) -> str:
    """The line of a change: what it does with which step."""
    to = "" if change.to is None else f"{' after' if change.after else ' before'} "
    return f"{change.how} {changed_step(change.what)}" + (
        "" if change.to is None else to + changed_step(change.to)
    )


def changed_step(node: tree.Changed) -> str:
    """Which step of the base a change names, as it is written."""
    which = "" if node.number is None else f", {node.number} of {node.of}"
    name = _quoted(node.name) if node.quoted else node.name.plain
    return "the block around " * node.around + name + which


def _rule_lines(page: _Page, indent: int, lines: Iterable[tree.RuleLine | tree.Spoiled]) -> None:
    for line in lines:
        if not isinstance(line, tree.RuleLine):
            raise _spoiled(line)
        page.line(indent, line.words.plain, line.remarks)
        _rule_lines(page, indent + 2, line.lines)
        example = _Page()
        for header in line.header:
            example.line(0, _header_line(header), header.remarks)
        for section in line.sections:
            _section(example, section)
        _items(example, 0, line.items)
        page.lines += (f"{' ' * (indent + 2)}{text}" if text else "" for text in example.lines)
        page.comments(indent + 2, line.end)


def _under(page: _Page, node: tree.Node) -> None:
    if isinstance(node, tree.LevelLine | tree.ProductLine | tree.FloorLine):
        _remark_lines(page, 4, node.lines)
        page.comments(4, node.end)


def section_heading(section: tree.Section) -> str:
    """The line that opens a section."""
    match section:
        case tree.Choices(fixed=fixed):
            return "choices, fixed for the clinic" if fixed else "choices, each visit"
        case tree.FoundOut():
            return "found out on the way"
        case tree.CanHappen(phases=phases):
            return f"can happen in {', '.join(map(_quoted, phases))}"
        case tree.BeginsWith():
            return "begins with"
        case tree.Leaves():
            return "leaves"
        case tree.Phase(title=Words() as title):
            return f"phase {_quoted(title)}"
        case tree.Kinds():
            return "kinds of thing"
        case tree.Parts(of=person):
            return f"parts of {person if person == 'staff' else f'a {person}'}"
        case tree.Facts(of=of):
            return "facts" if of == "visit" else f"facts of a {of}"
        case tree.Duty(title=Words() as title):
            return f"duty {_quoted(title)}"
        case tree.Verb(form=form):
            return f"verb {form.plain}"
        case tree.Germs():
            return "germs, hardest first"
        case tree.Figures():
            return "figures"
        case tree.ExposureSettings():
            return "exposure settings"
        case tree.WhomToCall():
            return "whom to call"
        case tree.Settings():
            return "settings"
        case tree.Waiver(title=Words() as title):
            return f"waiver {_quoted(title)}"
        case tree.Rule(title=Words() as title):
            return f"rule {_quoted(title)}"
        case tree.Levels():
            return "levels, weakest first"
        case tree.Materials():
            return "materials"
        case tree.Products():
            return "products"
        case tree.Floors(condition=None):
            return "floors"
        case tree.Floors(condition=condition) if condition is not None:
            return f"floors where {_condition(condition)}"
        case tree.People():
            return "people"
        case tree.Places():
            return "places"
        case tree.Air():
            return "air"
        case tree.Streams():
            return "waste streams"
        case tree.Things(heading=heading):
            return heading
        case tree.Groups():
            return "groups"
        case tree.ChangesIn(phase=Words() as title):
            return f"changes in {_quoted(title)}"
        case tree.Without(phase=Words() as title):
            return f"without phase {_quoted(title)}"
        case tree.Without(heading=heading):
            return f"without {heading.plain}"
        case tree.PhasesBeside(phase=Words() as title):
            return f"{'after' if section.after else 'before'} phase {_quoted(title)}"
        case _:
            raise _spoiled(section)


def _line(node: tree.Node) -> str:
    """A line of a section that is written on one line."""
    match node:
        case tree.ChoiceLine(name=name, values=names) | tree.GroupLine(name=name, members=names):
            return f"{name.plain}: {_listed(names)}"
        case tree.FigureLine(name=name, amount=amount, unit=unit):
            return f"{name.plain}: {amount.plain}" + ("" if unit is None else f" {unit.plain}")
        case tree.ExposureLine(of=names, values=values):
            told = ", ".join(f"{one.amount.plain} {one.unit.plain}" for one in values)
            return f"{_listed(names)}: {told}"
        case tree.CallLine(name=name, how=how):
            return f"{name.plain}: {how.plain}"
        case tree.FoundOutLine(name=name, label=label):
            return f"{name.plain}, known after {label.plain}"
        case tree.Mishap(name=name, person=Words() as who):
            return f"{name.plain}, between any two steps of {who.plain}"
        case tree.Mishap(name=name, labels=labels):
            return f"{name.plain}, right after {_listed(labels)}"
        case tree.BeginsLine(claim=claim, used=used):
            if isinstance(claim, tree.FoundUsed):
                return f"{claim.what.plain} {'are' if claim.plural else 'is'} used"
            return _claim(claim) + ("; used" if used else "")
        case tree.LeavesLine(claim=made):
            return _claim(made)
        case tree.NamesLine(names=names):
            return _listed(names)
        case tree.PartLine(name=name, counts=counts):
            unclean = "; unclean on coming in" if node.unclean else ""
            full = f"; full of {node.full_of}" if node.full_of else ""
            return f"{name.plain}: {counts}{unclean}{full}"
        case tree.FactLine(name=name, lasting=lasting):
            return name.plain + ("; lasting" if lasting else "")
        case tree.LevelLine(name=name, acts_on=acts_on, ends=ends):
            if acts_on == "chemicals":
                return f"{name.plain}: acts on chemicals"
            classes = "every class" if ends is None else _listed(ends)
            return f"{name.plain}: acts on {acts_on}; ends {classes}"
        case tree.ProductLine(name=name, traits=told_of):
            return f"{name.plain}: {'; '.join(map(_trait, told_of))}"
        case tree.FloorLine(traits=names, level=level):
            return f"{_listed(names)}: {level.plain}"
        case tree.PersonLine(names=names, kind=person, starts_in=where, stays=stays):
            starts = "" if where is None else f"; starts in {where.plain}"
            return f"{_listed(names)}: {person}{starts}{'; stays at an exposure' if stays else ''}"
        case tree.PlaceLine(names=names, traits=standings):
            told = "; ".join(map(_standing, standings))
            return f"{_listed(names)}: {told}" if told else _listed(names)
        case tree.Carries(condition=where):
            return "carries germs" if where is None else f"carries germs where {_condition(where)}"
        case tree.Amount(amount=amount, unit="percent"):
            return f"cleared to {amount.plain} percent"
        case tree.Amount(amount=amount):
            return f"mixing factor {amount.plain}"
        case tree.StreamLine(name=name, note=note):
            return name.plain if note is None else f"{name.plain}: {note.plain}"
        case tree.ThingLine(names=names, kind=kind, traits=traits):
            return "; ".join([f"{_listed(names)}: {kind.plain}", *map(_trait, traits)])
        case tree.While(fact=fact, part=part):
            touch = "touch" if node.plural else "touches"
            return f"while {fact.plain}, {part.plain} {touch} nothing"
        case tree.Note() | tree.Source():
            return _remark(node)
        case _:
            raise _spoiled(node)


def _standing(node: tree.Amount | tree.Standing) -> str:
    if isinstance(node, tree.Standing):
        return node.what
    return f"{node.amount.plain} {node.unit}"


def _trait(node: tree.ThingTrait | tree.NotOn) -> str:
    match node:
        case tree.Has(parts=parts):
            return f"has {', '.join(part.name.plain for part in parts)}"
        case tree.TakesCover(covers=covers):
            return f"takes cover {', then '.join(map(_cover_taken, covers))}"
        case tree.StartsCovered(cover=cover):
            return f"starts covered with {cover.plain}"
        case tree.StartsAs(how=how):
            return how
        case tree.Trait(what=what):
            return what
        case tree.LetsThrough(names=names):
            return f"lets {_listed(names)} through"
        case tree.WornOn(part=part, over=over):
            return f"worn on {part.plain}" + ("" if over is None else f" over {over.plain}")
        case tree.StandsIn(where=where):
            return f"in {where.plain}"
        case tree.From(box=box):
            return f"from {box.plain}"
        case tree.LaidOut(surface=surface, box=box):
            return f"laid out on {surface.plain}, from {box.plain}"
        case tree.GoesTo(stream=stream):
            return f"goes to {stream.plain}"
        case tree.TreatsTo(level=level):
            return f"treats to {level.plain}"
        case tree.TreatsWith(product=product):
            return f"treats with {product.plain}"
        case tree.MadeOf(materials=names):
            return f"made of {_listed(names)}"
        case tree.NotOn(materials=names):
            return f"not on {_listed(names)}"
        case tree.StaysWet(minutes=minutes):
            return f"stays wet {minutes} {'minute' if minutes == 1 else 'minutes'}"
        case _:
            raise _spoiled(node)


def _cover_taken(node: tree.CoverTaken) -> str:
    return node.cover.plain + (f" on {_listed(node.on)}" if node.on else "")


# --- Verbs ---------------------------------------------------------------------------------------


def _verb_line(page: _Page, node: tree.VerbLine) -> None:
    if isinstance(node, tree.OnlyWhen):
        _only_when(page, 2, node)
    else:
        page.line(2, _effect(node), node.remarks)


def _effect(node: tree.VerbLine) -> str:
    match node:
        case tree.Also(form=form):
            return f"also {form.plain}"
        case tree.AllowedWhile(fact=fact):
            return f"allowed while {fact.plain}"
        case tree.Take(what=what, hands=hands):
            return f"take {what.plain} with {hands.plain}"
        case tree.LayOut(what=what, hands=hands):
            return f"lay out {what.plain} with {hands.plain}"
        case tree.Meet(what=whats, trace=trace, may=may):
            return f"{'brush' if trace else 'may meet' if may else 'meet'} {_listed(whats)}"
        case tree.Pass(sources=sources, goals=goals, trace=trace):
            return f"pass {'a trace of ' if trace else ''}{_listed(sources)} to {_listed(goals)}"
        case tree.Cover(what=what, cover=cover):
            return f"cover {what.plain} with {cover.plain}"
        case tree.Uncover(what=what, cover=cover):
            return f"uncover {what.plain} from {cover.plain}"
        case tree.Tear(cover=cover, what=what):
            return f"tear {cover.plain} on {what.plain}"
        case tree.Wash(what=whats):
            return f"wash {_listed(whats)}"
        case tree.Reduce():
            return _reduce(node)
        case tree.Retire(what=what, stream=stream):
            return f"retire {what.plain}" + ("" if stream is None else f" into {stream.plain}")
        case tree.Sets():
            return _sets(node)
        case tree.Moves(who=who, to=to):
            return f"moves {who.plain} out" if to is None else f"moves {who.plain} to {to.plain}"
        case tree.Exposure(who=who):
            return f"exposure by {who.plain}"
        case tree.NoContact():
            return "no contact"
        case tree.Lasts():
            return _lasts(node)
        case tree.Note() | tree.Source():
            return _remark(node)
        case _:
            raise _spoiled(node)


def _reduce(node: tree.Reduce) -> str:
    reduced = f"reduce {_listed(node.what)}"
    if node.product is not None:
        return f"{reduced} by {node.product.plain}"
    if node.level is None:
        raise _spoiled(node)
    through = "" if node.through is None else f" through {node.through.plain}"
    return f"{reduced} to {node.level.plain}{through}"
