"""What the engine's findings say: faults of order (O…), paths of soil (C…), parts not checked (U…).

The facts that each kind fills in, all of them text that a person can read:

========================  ==========================================================================
no-permitted-order        steps: the steps whose order lines contradict each other
order-circle              steps: those of the circle
claim-can-fail            step, person; claim: what should hold, "settings chosen"
touched-from-afar           person, thing, where: its place; step
gloves-off-the-dirty-side   person; step
air-breathed                person; where: the place; step
air-not-clear               where: the place; minutes: how long it takes
near-an-exposure            by: who exposes; step; claim: "helper is in booth or outside"
duty-can-fail             duty: its name; step: what can come too early; person; after: a step
cover-on-twice            cover, what, step
cover-not-on              cover, what, step
under-a-cover             what, step
nothing-taken             what, step
already-thrown-away       what, step
which-one                 what: "the first sleeve or the second"; step
never-done                step
either-here               claim: what is asked, "operator wears gloves"
known-too-early           fact; label: of the step after which it is known
known-inside-only         fact
mishap-too-early          mishap
again-not-before          label; phase: another one, in which the step stands; mishap: in one
too-few-laid-out          step, thing; taken, laid: how many, in figures; once: by one step
not-ordered               first: the step that has to come first; second; reaches: whom or what
path-to-patient           who: the part reached; from_what, soil: whence, what; first, last: steps
world-to-patient          origin: "everyday world", "floor, bin or drain" or "chemical"; part: the
                          part reached
path-to-staff             who: the person; part; origin: "chemical", if it is not of a patient
clean-thing-reached       thing
hands-at-end              who: the person
claim-not-clean           what, step
not-ready                 what; begins, ends: "covered with bag", "bare", "covered with bag, torn";
                          of a fact "so", "not so"
left-over                 thing
cover-not-changed         cover; what: the things it is on; step: the last that touches it
too-hard                  question: what was asked, no question mark; spent: the limit
because-of-findings       which: the findings in the way (their kinds, or words for them)
other-choices             choices: those left aside, "staffing: paired"
not-readable              file; why, if it is known
next-visits               why
========================  ==========================================================================

Those about soil may carry ``treated`` (a thing on the way), ``level`` (how far it is treated) and
``floor`` (how far it would have to be), or ``wet`` and ``touched`` (what touches it too early),
or ``unwashed`` and ``treated_in``, or ``rubbed`` and ``rubbed_in``, or ``leaks`` (a cover) and
``leaked_in``, or ``torn`` (a cover) and ``tore_in`` (the step). Any of them may carry
``follows``: what else is so for as long as this is not put right.
"""

from __future__ import annotations

import re

from protocol_lang.wording.entry import Entry, Facts
from protocol_lang.wording.examples import GUM, STAFFING, TOWEL, visit
from protocol_lang.wording.plain import begin, owned, quoted, without_owner

#: How the end of a visit is named where a step would be.
VISIT_ENDS = "the visit ends"

# --- Faults of order -----------------------------------------------------------------------------


def _through_a_tear(facts: Facts) -> str | None:
    """Where soil gets through a cover that tore."""
    if not facts.get("torn"):
        return None
    return f"From {quoted(facts['tore_in'])} on, soil gets through the {facts['torn']}."


def _through_a_leak(facts: Facts) -> str | None:
    """Where soil gets through a cover that leaks."""
    if not facts.get("leaks"):
        return None
    return f"{begin(facts['leaks'])} is taken to leak, as in {quoted(facts['leaked_in'])}."


def _in_spite_of(facts: Facts) -> str | None:
    """Why a cover, or a treatment on the way, did not keep the soil from getting there."""
    if facts.get("torn"):
        return _through_a_tear(facts)
    if facts.get("rubbed"):
        return f"{quoted(facts['rubbed_in'])} ends traces only; there is more on {facts['rubbed']}."
    return _below_the_floor(facts) or _through_a_leak(facts)


def _below_the_floor(facts: Facts) -> str | None:
    """Where a thing on the way is treated, but not as far, or not as long, as it needs."""
    if facts.get("wet"):
        when = f"{quoted(facts['touched'])} touches it" if "touched" in facts else "the visit ends"
        return (
            f"{begin(facts['wet'])} is still wet when {when}, so its disinfection does not count."
        )
    if facts.get("unwashed"):
        return (
            f"{begin(facts['unwashed'])} is not cleaned before {quoted(facts['treated_in'])}, "
            "so that does not count."
        )
    if not facts.get("treated"):
        return None
    return (
        f"{begin(facts['treated'])} is treated only to {facts['level']}; "
        f"for a thing used like this, {facts['floor']} is the least."
    )


def _no_permitted_order(facts: Facts) -> str:
    return (
        "No order of the steps is permitted: what is asked of these contradicts itself: "
        f"{facts['steps']}."
    )


def _order_circle(facts: Facts) -> str:
    return f"These steps wait for each other in a circle: {facts['steps']}."


def _claim_can_fail(facts: Facts) -> str:
    if facts["step"] == VISIT_ENDS:
        return f"The visit can end although this does not hold: {facts['claim']}."
    return f"{quoted(facts['step'])} can begin although this does not hold: {facts['claim']}."


def _duty_can_fail(facts: Facts) -> str:
    if facts["step"] == VISIT_ENDS:
        return (
            f"The visit can end after {quoted(facts['after'])} "
            f"before this duty is done: {facts['duty']}."
        )
    return (
        f"{quoted(facts['step'])} can come after {quoted(facts['after'])} "
        f"before this duty is done: {facts['duty']}."
    )


def _touched_from_afar(facts: Facts) -> str:
    begin_so = f"{quoted(facts['step'])} can begin while {facts['person']} is not "
    if "where" in facts:
        return f"{begin_so}in {facts['where']}, where {facts['thing']} is."
    return f"{begin_so}where {facts['thing']} is."


def _gloves_off_the_dirty_side(facts: Facts) -> str:
    return f"In {quoted(facts['step'])}, {facts['person']} can leave the dirty side in gloves."


def _air_breathed(facts: Facts) -> str:
    return (
        f"{quoted(facts['step'])} can leave {facts['person']} in the air of {facts['where']} "
        "while it carries germs, with nothing on the face that keeps them out."
    )


def _air_not_clear(facts: Facts) -> str:
    return (
        f"The visit can end before the air of {facts['where']} is clear: "
        f"that takes {facts['minutes']} minutes from when the patient has left."
    )


def _near_an_exposure(facts: Facts) -> str:
    return (
        f"At the exposure by {facts['by']}, {quoted(facts['step'])}, this may not hold: "
        f"{facts['claim']}."
    )


def _cover_on_twice(facts: Facts) -> str:
    return (
        f"{quoted(facts['step'])} can put {facts['cover']} on {facts['what']} "
        "when a cover is already there."
    )


def _cover_not_on(facts: Facts) -> str:
    have = "have" if facts["what"].endswith("s") else "has"
    return f"{quoted(facts['step'])} can come when {facts['what']} {have} no {facts['cover']} on."


def _under_a_cover(facts: Facts) -> str:
    return f"{quoted(facts['step'])} can come while {facts['what']} is under another cover."


def _nothing_taken(facts: Facts) -> str:
    return f"{quoted(facts['step'])} can come before any {facts['what']} has been taken."


def _already_thrown_away(facts: Facts) -> str:
    return f"{quoted(facts['step'])} can come after {facts['what']} has been thrown away."


def _which_one(facts: Facts) -> str:
    return f"In {quoted(facts['step'])} it depends on the order which is meant: {facts['what']}."


def _never_done(facts: Facts) -> str:
    return f"No choice leads to the step {quoted(facts['step'])}."


def _too_few(facts: Facts) -> str:
    return (
        f"By {quoted(facts['step'])} {facts['taken']} of {quoted(facts['thing'])} can be taken, "
        f"and {facts['laid']} {'is' if facts['laid'] == '1' else 'are'} laid out."
    )


def _lay_out_more(facts: Facts) -> str | None:
    if "once" not in facts:
        return None
    return f"lay out {facts['taken']} of {quoted(facts['thing'])} instead of {facts['laid']}"


def _either_here(facts: Facts) -> str:
    return f"Depending on the order of steps, this may be so here or not: {facts['claim']}."


def _known_too_early(facts: Facts) -> str:
    return (
        f"{begin(quoted(facts['fact']))} is not yet known here in every order and with every "
        f"choice: it is found out in the step {quoted(facts['label'])}."
    )


#: What is found out on the way, and what can happen, for the examples.
_FAILED = """
found out on the way
  image blurred, known after look
"""
_PHONE = """
can happen in "Visit"
  phone rings, between any two steps of operator
    [ ] operator cleans hands
"""


def _not_ordered(facts: Facts) -> str:
    return (
        f"{quoted(facts['second'])} may come before {quoted(facts['first'])}, "
        f"and in that order soil can reach {facts['reaches']}."
    )


_STORE = """
places
  store

surfaces
  shelf: surface; in store
"""

_DIRTY = """
places
  sink: dirty side
  shelves
"""

_SIDES = """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator goes to sink
  [ ] operator {first}
  [ ] operator {second}
  [ ] operator cleans hands
  [ ] operator leaves the room
"""

_AIR = """
places
  imaging room: 6 air changes an hour

air
  carries germs

things
  respirator: mask; has front, ties; worn on nose and mouth; keeps out germs of the air; {ONCE}
"""

_AIR = _AIR.replace("{ONCE}", "used once; from glove box")

_BOOTH = """
places
  booth: barrier; patient in view
  chair side: 1 m from the patient; 90 degrees from the beam

verb ACTOR takes the scout image
  exposure by ACTOR
  no contact
"""

_EXPOSURE = """
  [ ] patient comes in
  [ ] operator goes to {where}
  [ ] operator takes the scout image
  [ ] operator leaves the room
  [ ] patient leaves
"""

#: Each pair in one go, and each second step waits for what comes only after it.
_CONTRADICTION = """
{i}side by side
{i}  operator
{i}    any order
{i}      in order
{i}        [ ] save: operator works at keyboard
{i}        [ ] operator cleans hands
{i}            after look, rest
{i}      in order
{i}        [ ] tidy: operator works at clean half
{i}        [ ] operator opens the record at keyboard
{i}            after look, rest
{i}  helper
{i}    any order
{i}      in order
{i}        [ ] look: helper looks at the image
{i}        [ ] helper cleans hands
{i}            after save, tidy
{i}      in order
{i}        [ ] rest: helper keeps hands still
{i}        [ ] helper opens the record at keyboard
{i}            after save, tidy
"""

_NO_CONTRADICTION = _CONTRADICTION.replace("{i}            after save, tidy\n", "")

_CHANGES = """
verb ACTOR changes COVER on SURFACE
  meet ACTOR's hands, SURFACE
  uncover SURFACE from COVER
  retire what came off
  take COVER with ACTOR's hands
  cover SURFACE with COVER

verb ACTOR smooths COVER
  meet ACTOR's hands, COVER
"""

#: A thing that the patient's hair meets, and that nobody covers.
_HEAD = "verb ACTOR steadies the head\n  meet ACTOR's hands, the patient's face"
_LAMP = "surfaces\n  lamp: surface\n" + GUM

_ORDER = (
    Entry(
        kind="no-permitted-order",
        number="O01",
        sentence=_no_permitted_order,
        because=lambda facts: (
            "Steps done in one go stay together, and each of these waits for something that is "
            "only possible in the middle of another."
        ),
        explanation=(
            "A protocol leaves some order open and fixes the rest: by the order of the lines, by "
            '"in one go", by "after". Here the fixed parts cannot all be met, so nobody could work '
            "by this protocol at all. Nothing else is looked at before this is put right, since "
            "anything at all would be true of an order that does not exist.\n\n"
            'Take one of the "after" lines away, or let one of the lists in "any order" be mixed, '
            "so that other steps may come in between."
        ),
        faulty=visit(_CONTRADICTION.format(i="  ")),
        good=visit(_NO_CONTRADICTION.format(i="  ")),
    ),
    Entry(
        kind="order-circle",
        number="O02",
        sentence=_order_circle,
        explanation=(
            "Each of the steps has to wait for the one before it, and the first has to wait for "
            'the last. The order comes from the order of the lines and from "after" lines. '
            "Take out the one that is not meant."
        ),
        faulty=visit("""
  [ ] rub: operator cleans hands
      after record
  [ ] record: operator opens the record at keyboard
"""),
        good=visit("""
  [ ] rub: operator cleans hands
  [ ] record: operator opens the record at keyboard
      after rub
"""),
    ),
    Entry(
        kind="claim-can-fail",
        number="O03",
        sentence=_claim_can_fail,
        explanation=(
            'What stands behind "only when" must hold whenever the step begins, in every order '
            "that the protocol permits and with every choice. It does not make an order: it says "
            "what the order must ensure. The route shows one permitted order in which it does not "
            "hold. Verbs bring such conditions along: gloves go on bare hands only, an exposure "
            "is made from behind the barrier.\n\n"
            'Put the step that makes it hold earlier, or say "after" that step.'
        ),
        faulty=visit("""
  any order
    [ ] operator opens the record at keyboard
    [ ] operator works at keyboard
        only when record open
"""),
        good=visit("""
  any order
    [ ] record: operator opens the record at keyboard
    [ ] operator works at keyboard
        only when record open
        after record
"""),
    ),
    Entry(
        kind="touched-from-afar",
        number="O21",
        sentence=_touched_from_afar,
        explanation=(
            'A thing that the room says is "in" a place can be touched by people who are there. '
            "In one permitted order somebody touches it who is elsewhere at that moment. Either "
            "a step that goes there is missing, or it can come too late.\n\n"
            'Put the step that goes there earlier, or say "after" that step.'
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  any order
    in order
      [ ] operator goes to store
      [ ] operator leaves the room
    [ ] operator works at shelf
""",
            declared=_STORE,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator goes to store
  [ ] operator works at shelf
  [ ] operator leaves the room
""",
            declared=_STORE,
        ),
    ),
    Entry(
        kind="near-an-exposure",
        number="O22",
        sentence=_near_an_exposure,
        explanation=(
            "An exposure is made from behind a barrier from which the patient is seen; in a room "
            "without one, from at least 2 m from the patient and at 90 to 135 degrees from the "
            "beam. Nobody else but the patient is near: other staff, and whoever came along, are "
            "behind a barrier, at that distance and angle, or outside (NCRP report 145, 2003). "
            "Local codes come first.\n\n"
            "The room tells of each place what it is: barrier, patient in view, how far and at "
            'which angle. A companion who may be near has "stays at an exposure".'
        ),
        faulty=visit(_EXPOSURE.format(where="chair side"), declared=_BOOTH),
        good=visit(_EXPOSURE.format(where="booth"), declared=_BOOTH),
    ),
    Entry(
        kind="gloves-off-the-dirty-side",
        number="O25",
        sentence=_gloves_off_the_dirty_side,
        explanation=(
            "In a room for reprocessing, work goes from the dirty side to the clean one. Gloves "
            'stay where they were used: whoever goes from a "dirty side" to any other place, or '
            "out, has bare hands by then (protective equipment is taken off before leaving the "
            "work area: US code 29 CFR 1910.1030, from memory). Soil that gets to a thing kept "
            "clean is told apart from this.\n\n"
            "Take the gloves off, and clean the hands, before going."
        ),
        faulty=visit(_SIDES.format(first="goes to shelves", second="takes off gloves"), _DIRTY),
        good=visit(_SIDES.format(first="takes off gloves", second="goes to shelves"), _DIRTY),
    ),
    Entry(
        kind="air-breathed",
        number="O23",
        sentence=_air_breathed,
        explanation=(
            "Where the protocol says that air carries germs, the air of a place does so from when "
            "the patient comes in until the patient has left and the time for clearing is "
            "over. Whoever of the staff is in it meanwhile wears a mask whose line in the room "
            'says that it "keeps out germs of the air": a respirator does, a surgical mask does '
            "not. It goes on before going in, and comes off after leaving (CDC, Guideline for "
            "Isolation Precautions, 2007, from memory). Fit testing and local rules come first."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on respirator
  [ ] operator goes to imaging room
  [ ] patient comes to imaging room
  [ ] patient leaves
  [ ] operator takes off respirator by the ties
  [ ] operator leaves the room
  [ ] operator waits 69 minutes
""",
            declared=_AIR,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on respirator
  [ ] operator goes to imaging room
  [ ] patient comes to imaging room
  [ ] patient leaves
  [ ] operator leaves the room
  [ ] operator takes off respirator by the ties
  [ ] operator waits 69 minutes
""",
            declared=_AIR,
        ),
    ),
    Entry(
        kind="air-not-clear",
        number="O24",
        sentence=_air_not_clear,
        because=lambda facts: "The next patient would come into the germs of this one.",
        explanation=(
            "Where the protocol says that air carries germs, the air of a place has to be clear "
            "when the visit ends, since the next patient comes then. The time for that follows "
            "from how often an hour the air is changed, and counts from when the patient has "
            "left: minus the logarithm of what may be left, through the air changes an hour, "
            "times 60 minutes, times the mixing factor (CDC, Guidelines for Environmental "
            "Infection Control in Health-Care Facilities, 2003, table B.1). Waits that surely "
            "come after the patient has left add up."
        ),
        faulty=visit(
            """
  [ ] patient comes to imaging room
  [ ] patient leaves
  [ ] operator cleans hands
  [ ] operator waits 68 minutes
""",
            declared=_AIR,
        ),
        good=visit(
            """
  [ ] patient comes to imaging room
  [ ] patient leaves
  [ ] operator cleans hands
  [ ] operator waits 69 minutes
""",
            declared=_AIR,
        ),
    ),
    Entry(
        kind="duty-can-fail",
        number="O04",
        sentence=_duty_can_fail,
        explanation=(
            "A duty is something that practice asks for at once, whether or not soil would get "
            "anywhere without it. Hands that come out of gloves are cleaned before they touch "
            "anything else: gloves have holes too small to see, and taking them off leaves a "
            "trace on the hands (CDC, Guideline for Hand Hygiene in Health-Care Settings, "
            "2002).\n\n"
            'Put the two steps under "in one go" so that nothing can come between them.'
        ),
        faulty=visit("""
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator takes off gloves
  [ ] operator opens the record at keyboard
  [ ] operator cleans hands
"""),
        good=visit("""
  [ ] operator cleans hands
  [ ] operator puts on gloves
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
  [ ] operator opens the record at keyboard
"""),
    ),
    Entry(
        kind="either-here",
        number="O30",
        sentence=_either_here,
        explanation=(
            'What is asked after "where" must be the same in every permitted order at the moment '
            "at which the steps under it begin: otherwise nobody could say whether they are done. "
            "The route shows an order in which it is not as in the others.\n\n"
            "Put into an order what it depends on."
        ),
        faulty=visit("""
  any order, mixed
    [ ] operator opens the record at keyboard
    where record open
      [ ] operator works at keyboard
"""),
        good=visit("""
  [ ] operator opens the record at keyboard
  where record open
    [ ] operator works at keyboard
"""),
    ),
    Entry(
        kind="known-too-early",
        number="O31",
        sentence=_known_too_early,
        explanation=(
            "What is found out on the way is known only after the step that is named behind it. "
            "Steps that depend on it come after that step, in every permitted order and with every "
            "choice."
        ),
        faulty=visit(
            """
  where image blurred
    [ ] operator cleans hands
  [ ] look: operator looks at the image
""",
            _FAILED,
        ),
        good=visit(
            """
  [ ] look: operator looks at the image
  where image blurred
    [ ] operator cleans hands
""",
            _FAILED,
        ),
    ),
    Entry(
        kind="known-inside-only",
        number="O32",
        sentence=lambda facts: (
            f"{begin(quoted(facts['fact']))} is found out anew each time round, so outside it is "
            "not known which time is meant."
        ),
        explanation=(
            'What is found out by a step under "for each" is found out each time. Steps that '
            'depend on it stand under the same "for each".'
        ),
        faulty=visit(
            """
  for each exposure, 1 to 3
    [ ] look: operator looks at the image
  where image blurred
    [ ] operator cleans hands
""",
            _FAILED,
        ),
        good=visit(
            """
  for each exposure, 1 to 3
    [ ] look: operator looks at the image
    where image blurred
      [ ] operator cleans hands
""",
            _FAILED,
        ),
    ),
    Entry(
        kind="mishap-too-early",
        number="O33",
        sentence=lambda facts: (
            f"Here it is not yet sure whether {quoted(facts['mishap'])} has happened: it can still "
            "come."
        ),
        explanation=(
            "Steps that depend on a mishap come after all steps after which it can happen, or "
            "stand under the mishap itself."
        ),
        faulty=visit(
            """
  where phone rings
    [ ] operator looks at the image
  [ ] operator opens the record at keyboard
""",
            _PHONE,
        ),
        good=visit(
            """
  [ ] operator opens the record at keyboard

phase "Afterwards"
  where phone rings
    [ ] operator looks at the image
""",
            _PHONE,
        ),
    ),
    Entry(
        kind="again-not-before",
        number="O34",
        sentence=lambda facts: (
            f"No step with the label {quoted(facts['label'])} stands above this in "
            + ("the same list." if "mishap" in facts else "this phase.")
        ),
        because=lambda facts: (
            f'One stands in {quoted(facts["phase"])}; "again from" does not go back over phases.'
            if "phase" in facts
            else None
        ),
        explanation=(
            '"again from" goes back to a step that stands above it in the same phase. Going back '
            "over phases is not possible: what may be done again stands in one phase. Of a mishap "
            "it can be said where it is told right after which steps it happens."
        ),
        faulty=visit("""
  may be left out
    again from look, at most 1 time
  [ ] look: operator looks at the image
"""),
        good=visit("""
  [ ] look: operator looks at the image
  may be left out
    again from look, at most 1 time
"""),
    ),
    Entry(
        kind="cover-on-twice",
        number="O05",
        sentence=_cover_on_twice,
        explanation=(
            "A fresh cover goes on after the old one has come off. A thing that starts a visit "
            "covered (the room says so) still has that cover on."
        ),
        faulty=visit("""
  [ ] operator cleans hands
  [ ] operator covers head rest with bag
"""),
        good=visit("""
  [ ] operator cleans hands
  [ ] operator takes bag off head rest
  [ ] operator covers head rest with bag
"""),
    ),
    Entry(
        kind="cover-not-on",
        number="O06",
        sentence=_cover_not_on,
        explanation=(
            "A cover is taken off that may not be there: it was never put on, or another step has "
            "taken it off before."
        ),
        faulty=visit("""
  [ ] operator cleans hands
  [ ] operator takes bag off head rest
  [ ] operator takes bag off head rest
  [ ] operator covers head rest with bag
"""),
        good=visit("""
  [ ] operator cleans hands
  [ ] operator takes bag off head rest
  [ ] operator covers head rest with bag
"""),
    ),
    Entry(
        kind="under-a-cover",
        number="O07",
        sentence=_under_a_cover,
        explanation=(
            "Covers come off from the outside inwards and go on from the inside outwards. "
            "Overgloves come off before the gloves under them."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator puts on overgloves
  [ ] operator takes off gloves
""",
            declared="""
things
  overgloves: overgloves; has outside, inside; worn on hands over gloves; used once; from glove box
""",
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator puts on overgloves
  [ ] operator takes off overgloves
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            declared="""
things
  overgloves: overgloves; has outside, inside; worn on hands over gloves; used once; from glove box
""",
        ),
    ),
    Entry(
        kind="nothing-taken",
        number="O08",
        sentence=_nothing_taken,
        explanation=(
            "The step speaks of a thing that is used once, and there is a permitted order in which "
            "none has been taken by then. Take a new one in this step or before it."
        ),
        faulty=visit("""
  [ ] operator cleans hands
  [ ] operator cleans chair arms with the same wipe
"""),
        good=visit("""
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator cleans chair arms with a new wipe
  [ ] operator cleans clean half with the same wipe
  [ ] operator throws wipe into clinical waste
"""),
    ),
    Entry(
        kind="already-thrown-away",
        number="O09",
        sentence=_already_thrown_away,
        explanation=(
            "What has been thrown away, or has been handed over to be cleaned elsewhere, is not "
            "used again in the same visit. Take a new one, or throw it away later."
        ),
        faulty=visit("""
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator cleans chair arms with a new wipe
  [ ] operator throws wipe into clinical waste
  [ ] operator cleans clean half with the same wipe
"""),
        good=visit("""
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator cleans chair arms with a new wipe
  [ ] operator cleans clean half with the same wipe
  [ ] operator throws wipe into clinical waste
"""),
    ),
    Entry(
        kind="which-one",
        number="O10",
        sentence=_which_one,
        explanation=(
            'The name of a thing that is used once means the one that was taken last: "wipe" is '
            "the wipe last taken. Where two orders are permitted in which different ones were "
            "taken last, the step does not say which it means, and two people would read it in "
            "two ways. Fix the order of this step and the taking."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] helper cleans hands
  [ ] operator changes bag on head rest
  side by side
    operator
      [ ] operator changes bag on head rest
    helper
      [ ] helper smooths bag
""",
            declared=_CHANGES,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] helper cleans hands
  [ ] operator changes bag on head rest
  [ ] operator changes bag on head rest
  [ ] helper smooths bag
""",
            declared=_CHANGES,
        ),
    ),
    Entry(
        kind="never-done",
        number="O11",
        sentence=_never_done,
        explanation=(
            'The "where" lines around the step ask for choices that exclude each other, so the '
            "step is never done. Either a condition is not the one that was meant, or the step "
            "can go."
        ),
        faulty=visit(
            """
  where staffing is alone
    [ ] operator cleans hands
    where staffing is paired
      [ ] helper cleans hands
""",
            choices=STAFFING,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  where staffing is paired
    [ ] helper cleans hands
""",
            choices=STAFFING,
        ),
    ),
    Entry(
        kind="not-ordered",
        number="O12",
        sentence=_not_ordered,
        explanation=(
            "The protocol leaves the order of two steps open, and in one of the two orders soil "
            "gets where it must not be. If their order were fixed, nothing would be wrong: this "
            "is told instead of the path of the soil, since fixing the order is the whole mend."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  any order
    [ ] operator works at lamp
    [ ] operator feels the gum
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            declared=_LAMP,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator works at lamp
  [ ] operator feels the gum
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            declared=_LAMP,
        ),
    ),
    Entry(
        kind="too-few-laid-out",
        number="O13",
        sentence=_too_few,
        change=_lay_out_more,
        explanation=(
            "A supply that is laid out by number is counted: in every permitted order and with "
            "every choice no more of it may be taken than was laid out before. Where it is laid "
            "out again the numbers add up. Whoever runs short with soiled gloves on goes to the "
            "box with them, or uses one thing twice.\n\n"
            "A supply that is laid out without a number is not counted: it means as many as are "
            "taken."
        ),
        faulty=visit("""
  [ ] operator cleans hands
  [ ] operator lays out 1 wipe
  [ ] operator cleans chair arms with a new wipe
  [ ] operator disinfects chair arms with a new wipe
"""),
        good=visit("""
  [ ] operator cleans hands
  [ ] operator lays out 2 wipe
  [ ] operator cleans chair arms with a new wipe
  [ ] operator disinfects chair arms with a new wipe
"""),
    ),
)


# --- Paths of soil -------------------------------------------------------------------------------

_ORIGINS = {
    "everyday world": "everyday soil",
    "floor, bin or drain": "dirt from floor, bin or drain",
    "chemical": "a chemical that was not rinsed off",
}


def _path_to_patient(facts: Facts) -> str:
    part = without_owner(facts["from_what"])
    soil = begin(facts.get("soil", f"soil from the {part}"))
    return f"{soil} of one patient can reach the {without_owner(facts['who'])} of a later patient."


def _world_to_patient(facts: Facts) -> str:
    soil = _ORIGINS.get(facts["origin"], facts["origin"])
    part = facts["part"]
    whose = owned("the patient", part) if part == without_owner(part) else part
    return f"{begin(soil)} can reach {whose}."


def _path_to_staff(facts: Facts) -> str:
    soil = _ORIGINS[facts["origin"]] if "origin" in facts else "soil of a patient"
    return f"{begin(soil)} can reach {owned(facts['who'], facts['part'])}."


def _clean_thing_reached(facts: Facts) -> str:
    return f"Soil of a patient can reach {facts['thing']}, which is kept clean."


def _hands_at_end(facts: Facts) -> str:
    return f"Soil of a patient can still be on {owned(facts['who'], 'hands')} when the visit ends."


def _claim_not_clean(facts: Facts) -> str:
    return (
        f"Soil that should not be there can be on {facts['what']} "
        f"when {quoted(facts['step'])} begins."
    )


#: How facts begin and end a visit.
_SO = ("so", "not so")


#: How names of several end: "operator's hands", not "glass", "apparatus" or "lens".
_PLURAL = re.compile(r"(?<!len)(?<!['sui])s$")


def _not_ready(facts: Facts) -> str:
    what, begins, ends = facts["what"], facts["begins"], facts["ends"]
    if begins in _SO:
        return f"{quoted(what)} is {begins} when a visit begins and can be {ends} when it ends."
    several = ", " in what or " and " in what or _PLURAL.search(what) is not None
    them = "them" if several else "it"
    return f"A visit begins with {what} {begins} and can end with {them} {ends}."


def _cover_not_changed(facts: Facts) -> str:
    return (
        f"The {facts['cover']} on {facts['what']} is touched in {quoted(facts['step'])} "
        "and can still be there for the next patient."
    )


def _left_over(facts: Facts) -> str:
    return (
        f"{begin(facts['thing'])} can be left over: it is used, and not thrown away before the "
        "visit ends."
    )


_CONTAMINATION = (
    Entry(
        kind="path-to-patient",
        number="C01",
        sentence=_path_to_patient,
        because=_in_spite_of,
        explanation=(
            "Whatever touches soil carries it on to what it touches next, until something ends "
            "it: a treatment that is strong enough on a thing that was cleaned first, a cover "
            "that is thrown away. The route shows one permitted order of the steps, over as many "
            "visits as it takes, and how the soil gets on its way. Any of the changes that are "
            "listed has been tried and closes this path without opening another.\n\n"
            "Where soil gets through only for some kinds of germ, the route names them."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator works at lamp
  [ ] operator feels the gum
  [ ] operator works at lamp
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            declared=_LAMP,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator feels the gum
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
  [ ] operator works at lamp
""",
            declared=_LAMP,
        ),
    ),
    Entry(
        kind="world-to-patient",
        number="C02",
        sentence=_world_to_patient,
        because=_in_spite_of,
        explanation=(
            "Hands that come in from outside, a telephone, a pen carry everyday soil; floor, bin "
            "and drain carry dirt. On bare skin that does no harm; in a mouth it has no place. "
            "Nor have chemicals, such as fixer or what a disinfectant leaves on a thing: "
            "rinsing ends them, and no disinfection does."
        ),
        faulty=visit(
            """
  [ ] operator puts on gloves
  [ ] operator feels the gum
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            declared=GUM,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator feels the gum
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            declared=GUM,
        ),
    ),
    Entry(
        kind="path-to-staff",
        number="C03",
        sentence=_path_to_staff,
        because=_in_spite_of,
        explanation=(
            "Soil of a patient reaches staff when it comes onto bare skin in more than a trace, "
            "or onto eyes, nose or mouth at all. The trace that taking off gloves leaves on the "
            "hands is not counted at once, since cleaning the hands ends it; it is counted if it "
            "is still there when the visit ends (see hands-at-end). A chemical, such as fixer, "
            "reaches staff when it splashes into eyes, nose or mouth."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator feels the gum
  [ ] operator washes hands
""",
            declared=GUM,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator feels the gum
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            declared=GUM,
        ),
    ),
    Entry(
        kind="clean-thing-reached",
        number="C04",
        sentence=_clean_thing_reached,
        because=_in_spite_of,
        explanation=(
            'The room says "kept clean" of things that everybody counts on being clean and nobody '
            "disinfects between patients: a keyboard, a box of gloves, a drawer. No soil of a "
            "patient may get onto them, not even for a moment, since nothing in the protocol "
            "would take it off again."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator feels the gum
  [ ] operator works at keyboard
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            declared=GUM,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator feels the gum
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
  [ ] operator works at keyboard
""",
            declared=GUM,
        ),
    ),
    Entry(
        kind="hands-at-end",
        number="C05",
        sentence=_hands_at_end,
        because=_in_spite_of,
        explanation=(
            "Taking off gloves leaves a trace on the hands. Whoever leaves the room or turns to "
            "the next patient has clean hands: the last thing a person does in a visit is clean "
            "them."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator steadies the head
""",
            declared=_HEAD,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator steadies the head
  [ ] operator cleans hands
""",
            declared=_HEAD,
        ),
    ),
    Entry(
        kind="claim-not-clean",
        number="C06",
        sentence=_claim_not_clean,
        because=_in_spite_of,
        explanation=(
            '"only when … clean" says that nothing foreign is on a thing or on hands when the '
            'step begins: "clean of other patients" allows this patient\'s own soil, "clean" '
            "allows none, nor everyday soil. There is a permitted order in which something "
            "foreign is there."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator feels the gum
  [ ] operator feels the gum
      only when operator's hands are clean
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            declared=GUM,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator feels the gum
      only when operator's hands are clean
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            declared=GUM,
        ),
    ),
    Entry(
        kind="not-ready",
        number="C07",
        sentence=_not_ready,
        because=lambda facts: "Each visit has to leave the room as the next one expects it.",
        explanation=(
            "The protocol is followed again and again, so each visit has to leave the room as it "
            "found it: the same kinds of cover on the same things, the same lasting facts. As "
            "long as that is not so, nothing can be said about the patients who come after the "
            "first."
        ),
        faulty=visit("""
  [ ] operator cleans hands
  [ ] operator takes bag off head rest
"""),
        good=visit("""
  [ ] operator cleans hands
  [ ] operator takes bag off head rest
  [ ] operator covers head rest with bag
"""),
    ),
    Entry(
        kind="left-over",
        number="C08",
        sentence=_left_over,
        explanation=(
            "What is used once serves one patient: it is thrown away, or goes where it is "
            "cleaned, before the visit ends. What lies about is picked up by the next patient's "
            "hands, or taken for clean. Covers that stay on are told apart (see "
            "cover-not-changed)."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator cleans chair arms with a new towel
""",
            declared=TOWEL,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator cleans chair arms with a new towel
  [ ] operator throws towel into clinical waste
""",
            declared=TOWEL,
        ),
    ),
    Entry(
        kind="cover-not-changed",
        number="C09",
        sentence=_cover_not_changed,
        explanation=(
            "A cover that somebody touched during a visit has served that patient. Before the "
            "next one it comes off, with gloves on, and a clean one goes on with clean hands "
            "(CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003). A "
            "cover that nobody touched may stay."
        ),
        faulty=visit("""
  [ ] operator cleans hands
  [ ] operator aims tube head
"""),
        good=visit("""
  [ ] operator cleans hands
  [ ] operator aims tube head
  [ ] operator takes wrap off tube head
  [ ] operator cleans hands
  [ ] operator covers tube head with wrap
"""),
    ),
)


# --- Parts that were not checked ----------------------------------------------------------------


def _too_hard(facts: Facts) -> str:
    return (
        f"{begin(facts['question'])}: not decided within what a check may take ({facts['spent']})."
    )


def _because_of_findings(facts: Facts) -> str:
    return f"The rest was not looked at because of {facts['which']}."


def _other_choices(facts: Facts) -> str:
    return (
        f"Visits with {facts['choices']} were not looked at, as asked for; "
        "what such a visit leaves behind can reach the next one."
    )


def _not_readable(facts: Facts) -> str:
    why = f": {facts['why'].rstrip('.')}" if facts.get("why") else ""
    return f"{facts['file']} could not be read{why}."


def _next_visits(facts: Facts) -> str:
    return f"Nothing is said about the visits that follow the first: {facts['why']}."


UNCHECKED = (
    Entry(
        kind="too-hard",
        number="U01",
        sentence=_too_hard,
        explanation=(
            "Whether some order lets soil through can be very hard to decide, and the work spent "
            "on it has a limit, so that a check always comes to an end. Past the limit nothing is "
            "guessed: the question stays open and is named. It is neither a fault nor an "
            "approval. Fixing some of the order that is left open, or looking at one choice at a "
            "time, usually settles it."
        ),
        faulty="",
        good="",
    ),
    Entry(
        kind="because-of-findings",
        number="U02",
        sentence=_because_of_findings,
        explanation=(
            "Nothing is judged that rests on something already found to be at fault: its answer "
            "would change with the mend. Put right what was found, and check again."
        ),
        faulty="",
        good="",
    ),
    Entry(
        kind="other-choices",
        number="U05",
        sentence=_other_choices,
        explanation=(
            "A check can be narrowed to some values of a choice. But visits follow each other in "
            "any mix, unless the choice is fixed for the clinic: soil of a visit with the other "
            "value is not seen then. So a narrowed check is no approval; check without --choice "
            "for that."
        ),
        faulty="",
        good="",
    ),
    Entry(
        kind="not-readable",
        number="U03",
        sentence=_not_readable,
        explanation=(
            "A file could not be opened, is not text, or is larger than the stated limit. Nothing "
            "is said about it."
        ),
        faulty="",
        good="",
    ),
    Entry(
        kind="next-visits",
        number="U04",
        sentence=_next_visits,
        explanation=(
            "Soil is followed from one visit to the next only when each visit leaves the room as "
            "the next one expects it. Until that is so, only the first visit was looked at."
        ),
        faulty="",
        good="",
    ),
)

ENTRIES: tuple[Entry, ...] = (*_ORDER, *_CONTAMINATION, *UNCHECKED)
