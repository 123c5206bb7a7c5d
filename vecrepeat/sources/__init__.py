"""What a person brings, opened: drawings, recipes, loose motifs, motifs painted in pixels.

Everything comes out as motifs with scenes, or as a first recipe. How SVG is understood is
:mod:`vecrepeat.art`'s business.
"""
