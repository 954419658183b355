"""The commands: each a few lines from a chosen file to a view of what was found. They load what they need when they run."""

from . import begin, change, judge, pump, reference

__all__ = ["begin", "change", "judge", "pump", "reference"]
