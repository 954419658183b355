"""From readings on site to what is wrong: causes weighed by Bayes' rule, the reading that would tell them apart best, and what
is learnt, written into the layout.

    readings ─ places ─▶ what each cause would make of them ─ answers ─▶ probabilities ─ weigh ─▶ suspects, next reading, learnt
"""

from .diagnosis import Diagnosis, Suspect, diagnose

__all__ = ["Diagnosis", "Suspect", "diagnose"]
