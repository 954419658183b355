"""What single parts going wrong does: each followed through time, its first harm, what the fish have then, and what guards against it."""

from .find import Mishap, Mishaps, find_mishaps

__all__ = ["Mishap", "Mishaps", "find_mishaps"]
