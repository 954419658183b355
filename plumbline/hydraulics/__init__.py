"""Hydraulics: from a layout to arrays, to heads and flows that satisfy every law, and to what they mean."""
