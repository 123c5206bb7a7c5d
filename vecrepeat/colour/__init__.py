"""Colour: palettes, colourways and how far colours are apart."""
