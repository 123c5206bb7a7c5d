"""Dealings with the machine that have nothing to do with patterns.

Files read and written whole, worker processes, fonts installed here, XML's escapes. What is done
with a file's content lives elsewhere.
"""
