"""The game from the talk alone, where no score is given."""
