"""Checks: one module for each thing that ruins a repeat, over the endless cloth."""
