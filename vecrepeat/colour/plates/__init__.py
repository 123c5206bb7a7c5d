"""Plates for screen and rotary printing: one for each colour, exact, with traps and marks."""
