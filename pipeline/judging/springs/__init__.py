"""Springs against each other: what sheds more, what cannot be told, and what would tell."""
