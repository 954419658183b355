"""The water through the day: levels followed in time, with timers, switches, siphons and float valves."""

from .follow import follow_day
from .result import Course, Event
from .start import with_worst_cut

__all__ = ["Course", "Event", "follow_day", "with_worst_cut"]
