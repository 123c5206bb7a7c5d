"""Hundreds of designs: what is to be written, planned without reading art, and written in lanes."""
