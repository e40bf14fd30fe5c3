"""Who teaches whom: a variant's reach starts from where an earlier one's landed. Fixed by the plan alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from sweeper.plan.variants import Variant


def teachers(found: Sequence[Variant]) -> Mapping[str, str | None]:
    """Each variant's teacher; None for one that starts where its settings stand.

    The teacher of a variant differs from it on one axis, the fastest on which it is not at the first value, where it
    stands at that first value. So everybody learns from a near one, no chain of teachers is longer than there are
    axes, and many can learn at once. Only a variant of the same mix that solves the same settings of the same plugins
    can teach; but what has its settings from another mix has them from that one's variant.
    """
    by_place = {(variant.mix, variant.place): variant for variant in found}
    mains = main_variants(found)
    first: dict[object, Variant] = {}
    chosen: dict[str, str | None] = {}
    for variant in found:
        root = first.setdefault(_solves(variant), variant)
        if variant.main is not None:
            chosen[variant.id] = mains[variant.id] if variant.turns else None
            continue
        teacher = by_place.get((variant.mix, _nearer(variant.place)))
        if teacher is None or teacher is variant or _solves(teacher) != _solves(variant):
            teacher = root
        chosen[variant.id] = teacher.id if teacher is not variant and variant.turns else None
    return chosen


def main_variants(found: Sequence[Variant]) -> Mapping[str, str]:
    """Of everyone that has its settings from another mix, the variant of that mix, by id."""
    by_place = {(variant.mix, variant.place): variant.id for variant in found}
    return {variant.id: by_place[variant.main, (variant.main, *variant.place[1:])]
            for variant in found if variant.main is not None}  # fmt: skip


def explored_teachers(batch: Sequence[Variant], earlier: Sequence[Variant],
                      apart: Callable[[str, str], tuple[int, float]]) -> Mapping[str, str | None]:  # fmt: skip
    """The same for a batch of an exploration: the nearest of earlier batches teaches, of equally near ones the first.

    earlier: of the same mix, those that landed. apart: how far two variants are from each other, by their ids. Where
    nobody earlier solves the same settings of the same plugins, the first of the batch that does teaches the others.
    """
    chosen = dict(teachers(batch))
    for variant in batch:
        alike = [other for other in earlier if _solves(other) == _solves(variant)] if variant.turns else []
        if alike:
            chosen[variant.id] = min(alike, key=lambda other, own=variant: apart(own.id, other.id)).id  # type: ignore[misc]
    return chosen


def _nearer(place: tuple[int, ...]) -> tuple[int, ...]:
    """The place with the fastest axis that is not at its first value set back to it; the mix, the first, stays."""
    for axis in range(len(place) - 1, 0, -1):
        if place[axis]:
            return (*place[:axis], 0, *place[axis + 1 :])
    return place


def _solves(variant: Variant) -> object:
    return (variant.mix, tuple((variant.stages[t.stage].path, t.setting, t.side) for t in variant.turns))
