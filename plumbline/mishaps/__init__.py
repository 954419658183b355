"""What single parts going wrong does: each followed through time, its first harm, what the fish have then, and what guards against it."""

from .choose import Guarded, Taken, choose_guards
from .find import Mishap, Mishaps, find_mishaps

__all__ = ["Guarded", "Mishap", "Mishaps", "Taken", "choose_guards", "find_mishaps"]
