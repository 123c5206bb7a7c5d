"""Vector files out."""
