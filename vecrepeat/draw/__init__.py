"""Any window of the endless cloth as pixels: whole-pixel plans, the two engines, their workers.

No file formats: those are :mod:`vecrepeat.write`'s.
"""
