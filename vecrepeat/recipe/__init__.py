"""The recipe as a text file: what it may say, read, and changed without losing a comment.

What a recipe's art comes to is :mod:`vecrepeat.sources`' business.
"""
