"""What everything stands on: lengths, plane geometry, colours as numbers, names, errors, bounds.

Pure values and functions; no files, no XML, no pixels, and nothing of what a repeat is.
"""
