"""Redesign: the fewest, cheapest changes that make a layout good, and the proof of them."""
