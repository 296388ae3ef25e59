"""Prices of one's own: fitted on the talks that a commentator settled, kept only where they help."""
