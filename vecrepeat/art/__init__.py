"""Finding motifs in SVG drawings: reading, style resolution, outlines."""
