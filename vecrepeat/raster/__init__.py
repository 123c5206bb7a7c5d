"""Pixels: the plan in whole pixels, the renderers, the streaming writers."""
