"""Reports: what a check found, as text for people and as data for programs. Computes nothing."""
