"""What each varied setting of a run does to what was measured. Reads rows, renders nothing."""

from sweeper.table.effects.effect import Change, Effect, Level
from sweeper.table.effects.factors import Factor
from sweeper.table.effects.found import Effects, Told, effects, measurable

__all__ = ["Change", "Effect", "Effects", "Factor", "Level", "Told", "effects", "measurable"]
