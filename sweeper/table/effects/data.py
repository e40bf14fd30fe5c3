"""Effects for machines."""

from __future__ import annotations

from sweeper.plan.importance import Importance, draws_for
from sweeper.table.effects.effect import Change, Effect, Level
from sweeper.table.effects.factors import Factor
from sweeper.table.effects.found import Effects, Told


def effects_data(found: Effects) -> dict[str, object]:
    """What `effects --json` prints, every number in full."""
    importances = len(found.factors) * sum(told.outcome.varies for told in found.told)
    return {
        "schema": 1, "run": str(found.run.path), "title": found.run.title, "state": found.run.state,
        "variants": found.variants, "mixes": list(found.mixes),
        "settings": [_factor_data(factor) for factor in found.factors], "fixed_settings": list(found.fixed),
        "importance_draws": draws_for(found.variants, importances),
        "measurements": [_told_data(told) for told in found.told],
        "left_out": [{"name": name, "why": why} for name, why in found.left_out],
        "remarks": list(found.remarks),
    }  # fmt: skip


def _factor_data(factor: Factor) -> dict[str, object]:
    return {"name": factor.name, "unit": factor.unit, "told_as": "trend" if factor.trend else "levels",
            "values": list(factor.values), "numbers": list(factor.numbers) or None,
            "variants": sum(at is not None for at in factor.chosen)}  # fmt: skip


def _told_data(told: Told) -> dict[str, object]:
    outcome = told.outcome
    return {
        "key": outcome.key, "name": outcome.name, "unit": outcome.unit, "difference_unit": outcome.difference_unit,
        "solved_setting": outcome.solved, "variants": len(outcome.known), "mean": told.mean,
        "lowest": min(outcome.known), "highest": max(outcome.known), "left_over": told.left_over,
        "residual_spread": told.spread, "unexplained_share": told.unexplained,
        "effects": [_effect_data(effect) for effect in told.effects],
    }  # fmt: skip


def _effect_data(effect: Effect) -> dict[str, object]:
    return {"setting": effect.setting, "variants": effect.variants,
            "levels": [_level_data(level) for level in effect.levels],
            "change": None if effect.change is None else _change_data(effect.change), "why": effect.why or None,
            "importance": None if effect.importance is None else _importance_data(effect.importance)}  # fmt: skip


def _level_data(level: Level) -> dict[str, object]:
    return {"value": level.value, "variants": level.variants, "mean": level.mean, "difference": level.difference,
            "half_width_95": level.half}  # fmt: skip


def _change_data(change: Change) -> dict[str, object]:
    return {"from": change.start, "to": change.end, "difference": change.difference,
            "standard_error": change.standard_error, "half_width_95": change.half,
            "stands_out": None if change.half is None else change.stands_out}  # fmt: skip


def _importance_data(one: Importance) -> dict[str, object]:
    return {"share": one.share, "lowest_95": one.lowest, "highest_95": one.highest}
