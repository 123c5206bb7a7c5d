"""Collections: proposed, held to rules, shown together."""
