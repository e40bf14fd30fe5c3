"""Picking: the best first, twins passed over, the trade-off front spread, and what is short made up for."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sweeper.shortlist.picking import Entry, Part, pick
from sweeper.verdict.front import fronts


def ranked(points):
    """Entries in the order of their rank: by front, then by the first merit."""
    several = bool(points) and len(next(iter(points.values()))) > 1
    found = dict(zip(points, fronts(list(points.values())), strict=True))
    order = sorted(points, key=lambda id: (found[id] if several else 0, points[id]))
    return [Entry(id, points[id], found[id] if several else None) for id in order]


def ids(found):
    return [one.id for one in found.picks]


def never(one, other):
    return False


ONE = ranked({"a": (1.0,), "b": (2.0,), "c": (3.0,), "d": (4.0,)})


def test_with_one_preference_they_come_by_rank():
    found = pick(ONE, 3, never)
    assert ids(found) == ["a", "b", "c"]
    assert [one.part for one in found.picks] == [Part.BEST, Part.NEXT, Part.NEXT]
    assert found.passed == ()


def test_a_near_duplicate_of_one_that_is_picked_makes_room_for_the_next():
    found = pick(ONE, 3, lambda one, other: {one, other} == {"a", "b"})
    assert ids(found) == ["a", "c", "d"]
    assert found.passed == (("b", "a"),)
    assert [one.after_twins for one in found.picks] == [False, True, False]


def test_a_twin_of_what_was_passed_over_is_a_choice_of_its_own():
    near = {frozenset("ab"), frozenset("bc")}
    assert ids(pick(ONE, 2, lambda one, other: frozenset((one, other)) in near)) == ["a", "c"]


def test_where_too_few_differ_the_best_of_the_twins_make_up_for_it():
    found = pick(ONE, 3, lambda one, other: True)
    assert ids(found) == ["a", "b", "c"]
    assert [one.part for one in found.picks] == [Part.BEST, Part.FILLED, Part.FILLED]
    assert found.different == 1
    assert found.passed == (("b", "a"), ("c", "a"), ("d", "a"))


FRONT = {"punch": (0.0, 10.0), "near punch": (0.5, 9.5), "middle": (5.0, 5.0), "mono": (10.0, 0.0),
         "behind": (6.0, 6.0), "far behind": (9.0, 9.0)}  # fmt: skip


def test_with_two_preferences_the_best_in_each_come_first_then_what_is_furthest_from_both():
    found = pick(ranked(FRONT), 6, never)
    assert ids(found) == ["punch", "mono", "middle", "near punch", "behind", "far behind"]
    assert [one.part for one in found.picks] == [Part.BEST] * 2 + [Part.BETWEEN] * 2 + [Part.NEXT] * 2
    assert [one.best for one in found.picks[:3]] == [(0,), (1,), ()]


def test_distances_on_the_front_do_not_depend_on_the_units():
    scaled = {id: (one, 1000 * other) for id, (one, other) in FRONT.items()}
    assert ids(pick(ranked(scaled), 6, never)) == ids(pick(ranked(FRONT), 6, never))


def test_one_that_is_best_in_both_is_there_for_both():
    found = pick(ranked({"a": (1.0, 1.0), "b": (2.0, 2.0)}), 2, never)
    assert [(one.id, one.part, one.best) for one in found.picks] == [("a", Part.BEST, (0, 1)), ("b", Part.NEXT, ())]


def test_what_lacks_a_measurement_leads_in_nothing():
    inf = float("inf")
    found = pick(ranked({"silent": (inf, 0.0), "a": (1.0, 1.0), "b": (2.0, 0.5)}), 3, never)
    assert ids(found) == ["a", "b", "silent"]
    assert found.picks[2].part is Part.NEXT


@given(st.dictionaries(st.text(min_size=1, max_size=3), st.tuples(*[st.integers(0, 9).map(float)] * 2), max_size=12),
       st.integers(1, 14), st.sets(st.integers(0, 143)))  # fmt: skip
def test_as_many_as_asked_for_and_no_two_alike_before_all_choices_are_out(points, keep, numbers):
    names = sorted(points)

    def alike(one, other):
        low, high = sorted((names.index(one), names.index(other)))
        return 12 * low + high in numbers

    found = pick(ranked(points), keep, alike)
    assert len(found.picks) == min(keep, len(points)) == len(set(ids(found)))
    chosen = [one.id for one in found.picks if one.part is not Part.FILLED]
    assert not any(alike(one, other) for one in chosen for other in chosen if one != other)
    if len(chosen) < len(found.picks):
        rest = set(names) - set(chosen)
        assert all(any(alike(one, other) for other in chosen) for one in rest), "only where nothing else differs"
