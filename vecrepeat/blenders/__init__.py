"""Blenders: the dots, stripes, checks and small scatters that rest the eye beside a hero print.

Each kind is a pure function from settings and a cloth to layers of exact shapes, which go round
every layout's lattice by construction: whatever a kind counts, it counts in whole numbers that
the layout's shift divides.
"""
