"""Delivery targets and playback levels as data: what documents ask for, and how a file stands against them."""

from sweeper.targets.documents import BY_ID, DELIVERY, TARGETS
from sweeper.targets.playback import LEVELS, PlaybackLevel, Played, Sound, played
from sweeper.targets.requirements import Held, Requirement, gain_to_target_db, held, requirements
from sweeper.targets.target import Kind, Status, Target

__all__ = ["BY_ID", "DELIVERY", "LEVELS", "TARGETS", "Held", "Kind", "PlaybackLevel", "Played", "Requirement", "Sound",
           "Status", "Target", "gain_to_target_db", "held", "played", "requirements"]  # fmt: skip
