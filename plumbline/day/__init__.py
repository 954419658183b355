"""The water through the day: levels followed in time, with timers, switches, siphons and float valves."""

from .follow import follow_day
from .result import Course, Event
from .start import whole_day

__all__ = ["Course", "Event", "follow_day", "whole_day"]
