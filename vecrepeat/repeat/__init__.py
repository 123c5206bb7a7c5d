"""The model of a repeat: placed motifs, a lattice, and which motif goes where.

Layouts, symmetries, placements, wrapping, mirrors. Plain data in mm; nothing here draws or writes.
"""
