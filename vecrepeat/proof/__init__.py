"""Strike-off proofs: one sheet that shows a design at true scale."""
