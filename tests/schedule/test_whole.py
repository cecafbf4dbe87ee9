"""Times of visits: people side by side, sessions, air, and what would save time."""

from __future__ import annotations

import pytest

from protocol_lang.order.bits import members
from protocol_lang.pipeline import check_file
from protocol_lang.schedule.tasks import At, Changes, Tasks
from protocol_lang.timetable import Timetable
from protocol_lang.trade.air import published
from tests.schedule.kit import MINUTE, SHIPPED, WIRED, checked, timed, unfolded_of
from tests.schedule.small import least_by_hand

LOOKS = "[ ] {} looks at the image\n"


def looking(*people: tuple[str, str], block: str = "") -> str:
    """Steps of people that take so long; under a block if one is named."""
    indent = "    " if block else "  "
    lines = [
        f"{indent}[ ] {who} looks at the image\n{indent}    takes {long}\n" for who, long in people
    ]
    return (f"  {block}\n" if block else "") + "".join(lines)


def ready(table: Timetable) -> tuple[int, int]:
    (case,) = table.cases
    assert case.ready.sure
    return case.ready.least, case.ready.most


def test_one_person_does_one_thing_after_the_other(tmp_path):
    body = looking(("operator", "20 to 40 seconds"), ("operator", "1 minute"), block="any order")
    assert ready(timed(checked(tmp_path, body))) == (80_000, 100_000)


def test_two_people_work_at_the_same_time(tmp_path):
    body = looking(("operator", "20 to 40 seconds"), ("helper", "1 minute"), block="any order")
    assert ready(timed(checked(tmp_path, body))) == (60_000, 60_000)


def test_a_step_tells_its_time_instead_of_its_verb(tmp_path):
    # The vocabulary tells 20 to 30 seconds (WHO 2009) for cleaning hands.
    assert ready(timed(checked(tmp_path, "  [ ] operator cleans hands\n"))) == (20_000, 30_000)
    body = "  [ ] operator cleans hands\n      takes 25 seconds\n"
    assert ready(timed(checked(tmp_path, body))) == (25_000, 25_000)


def test_what_is_done_one_by_one_takes_its_time_for_each(tmp_path):
    body = "  [ ] operator inspects sensor, holder and collar\n      takes 7 seconds\n"
    assert ready(timed(checked(tmp_path, body))) == (21_000, 21_000)


def test_a_step_without_a_time_takes_none_and_is_listed(tmp_path):
    table = timed(checked(tmp_path, "  [ ] operator cleans hands\n  [ ] say: good morning\n"))
    assert ready(table) == (20_000, 30_000)
    assert table.untold == ("say: good morning",)


def test_the_best_order_is_that_which_wets_first(tmp_path):
    """Of two things in any order the one that has to dry comes first: 10 s, then 30 s in its two
    minutes."""
    body = """
  [ ] operator cleans hands
      takes 1 second
  [ ] operator lays out wipe
      takes 1 second
  any order
    [ ] operator looks at the image
        takes 30 seconds
    in order
      [ ] operator cleans chair arms with a new wipe
          takes 10 seconds
      [ ] operator disinfects chair arms with a new wipe
          takes 10 seconds
  [ ] operator waits until chair arms are dry
"""
    found = checked(tmp_path, body)
    # Two wipes are laid out: cleaning and disinfecting take one each.
    table = timed(found)
    (case,) = table.cases
    laid = case.ready.least - (1 + 10 + 10 + 120) * 1000
    assert laid in (1_000, 2_000)
    tasks = Tasks(unfolded_of(found))
    work = tasks.work(tasks.there(0), At.LEAST)
    assert least_by_hand(work, None, tasks.ready) == case.ready.least
    waits = [bar for bar in table.course.bars if bar.wait]
    assert [(bar.end - bar.start) // 1000 for bar in waits] == [90]


def test_the_times_of_the_shipped_visit_by_hand():
    """Alone, without collar: all steps added up, and what is left of the waits."""
    found = check_file(WIRED, {"staffing": "alone", "shielding": "none"})
    tasks = Tasks(unfolded_of(found))
    (case,) = timed(found).cases
    steps = sum(tasks.length(act, At.LEAST) for act in members(tasks.there(0)))
    waits = case.ready.least - steps
    # Sensor: 120 s less tray paper off (4), chair arms and used half cleaned and disinfected (40).
    sensor = 120 - 4 - 40
    # Used half, which is best done before the chair arms: 120 s less those (20), the wait for the
    # sensor and hanging it up (5). The chair arms are dry before all covers are on.
    used_half = 120 - 20 - sensor - 5
    assert waits == (sensor + used_half) * 1000
    assert case.turnover is not None and case.turnover.least < case.ready.least


def test_patients_in_a_session(tmp_path):
    body = looking(("operator", "10 to 20 minutes"))
    for session, patients in ((9, (0, 0)), (10, (0, 1)), (60, (3, 6)), (240, (12, 24))):
        (case,) = timed(checked(tmp_path, body), session).cases
        assert case.patients == patients


def test_what_runs_into_the_next_visit_is_not_waited_for(tmp_path):
    body = (
        looking(("operator", "5 minutes"))
        + '\nphase "Read"\n  may run into the next visit\n'
        + looking(("helper", "8 minutes"))
    )
    (case,) = timed(checked(tmp_path, body), 29).cases
    assert case.ready.least == 5 * MINUTE
    assert case.whole is not None and case.whole.least == 13 * MINUTE
    # The helper has 8 minutes' work for each patient: 13 + 8 + 8 minutes for three.
    assert case.patients == (3, 3)


def test_the_air_of_a_place_has_to_be_clear():
    """CDC 2003, guidelines for environmental infection control, table B.1: 69 minutes at 6 air
    changes an hour until 99.9 percent are gone."""
    path = SHIPPED / "imaging-room-3" / "panoramic-airborne-precautions.protocol"
    table = timed(check_file(path))
    (clearing,) = [one for one in table.clearing if one.where == "imaging room"]
    (row,) = [one for one in published() if (one.air_changes, one.percent) == (6, 99.9)]
    assert (clearing.changes, clearing.percent, clearing.minutes) == ("6", "99.9", row.minutes)
    usual, airborne = (case for case in table.cases)
    assert airborne.choices == (("precautions", "airborne"),)
    assert airborne.turnover is not None and airborne.turnover.least >= row.minutes * MINUTE
    assert usual.ready.most < 20 * MINUTE


# --- What would save time ------------------------------------------------------------------------


def gains(table: Timetable) -> dict[tuple[str, tuple[str, ...]], int]:
    return {(one.sort, one.what): one.saved for one in table.gains}


def test_a_helper_saves_the_shorter_of_two_parts(tmp_path):
    body = looking(("operator", "50 seconds"), ("operator", "30 seconds"), block="any order")
    body = body.replace("looks at the image", "keeps hands still", 1)
    table = timed(checked(tmp_path, body))
    assert gains(table) == {("helper", ("operator keeps hands still",)): 30_000}
    assert table.gains[0].who == "helper"


def test_what_is_done_in_order_gains_nothing_by_a_helper(tmp_path):
    body = looking(("operator", "50 seconds"), ("operator", "30 seconds"))
    assert gains(timed(checked(tmp_path, body))) == {}


def test_another_product_and_another_thing_are_worked_out_anew():
    """The published least contact time of intermediate level is 1 minute (CDC 2008, table 1)."""
    found = check_file(WIRED, {"staffing": "alone", "shielding": "collar"})
    table = timed(found)
    told = gains(table)
    tasks = Tasks(unfolded_of(found))
    there = tasks.there(0)
    from protocol_lang.schedule.least import least

    def minutes(changes: Changes) -> int:
        came = least(tasks.work(there, At.MIDDLE, changes), None, tasks.ready)
        assert came is not None and came.exact
        return came.ticks

    now = minutes(Changes())
    assert told["product", ("wipe",)] == now - minutes(Changes(labels={"wipe": 1}))
    assert told["another", ("sensor",)] == now - minutes(Changes(at_hand=frozenset({"sensor"})))
    assert [one.saved for one in table.gains] == sorted(told.values(), reverse=True)
    assert all(saved > 0 for saved in told.values())


@pytest.mark.parametrize("at", list(At))
def test_more_time_for_a_step_is_never_less_for_the_visit(at):
    """Least, middle and most lengths: the visit takes no less with longer steps."""
    found = check_file(WIRED)
    tasks = Tasks(unfolded_of(found))
    from protocol_lang.schedule.least import least

    order = [At.LEAST, At.MIDDLE, At.MOST]
    for world in range(unfolded_of(found).plan.worlds):
        ticks = []
        for one in order[: order.index(at) + 1]:
            came = least(tasks.work(tasks.there(world), one), None, tasks.ready)
            assert came is not None
            ticks.append(came.ticks)
        assert ticks == sorted(ticks)


def test_no_change_is_offered_that_makes_a_contact_time_too_short(tmp_path):
    """Two steps of a minute keep the two minutes. Given to a helper, one of them no longer does."""
    body = """
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator takes tray paper off used half
  [ ] operator cleans used half with a new wipe
  [ ] operator disinfects used half with a new wipe
  any order
    [ ] operator keeps hands still
        takes 1 minute
    [ ] operator looks at the image
        takes 1 minute
{}  [ ] operator lines used half with tray paper
"""
    assert gains(timed(checked(tmp_path, body.format("")))) == {}
    # Longer steps may be given away as long as two minutes are left.
    longer = body.format("").replace("takes 1 minute", "takes 2 minutes")
    assert list(gains(timed(checked(tmp_path, longer))).values()) == [2 * MINUTE]
