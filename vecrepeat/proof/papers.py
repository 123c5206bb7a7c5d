"""Papers that proofs are drawn for; apart, so that the command line can list them cheaply."""

from __future__ import annotations

PAPERS = {
    "a4": (297.0, 210.0),
    "a3": (420.0, 297.0),
    "a2": (594.0, 420.0),
    "letter": (279.4, 215.9),
    "tabloid": (431.8, 279.4),
}
"""Paper sizes in mm, lying: ISO 216, and US sizes (from memory)."""
