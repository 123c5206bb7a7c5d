"""Whole sets of drawings by other hands: is their ink found, and are they drawn right?"""
