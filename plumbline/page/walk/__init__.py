"""A layout walked in by taps: a page served on this machine, every tap an edit of the same text file."""
