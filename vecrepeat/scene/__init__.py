"""A drawing once everything hard about SVG is resolved: a small typed tree of values.

Here live the nodes (:mod:`.nodes`), what asks questions of any of them (:mod:`.visit`) and what
writes them as SVG (:mod:`.write`). How an SVG file comes to be a scene is :mod:`vecrepeat.art`'s
business; what is made of one (pixels, PDF, palettes, plates) is its visitors'.
"""
