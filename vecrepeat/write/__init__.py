"""Files out: SVG, PDF, PNG, TIFF, JPEG and WebP, at every size.

What is drawn comes from :mod:`vecrepeat.draw` as strips of pixels, or from scenes as vectors.
"""
