"""Fuzzing: generated and mutated drawings are drawn or refused, and nothing else."""
