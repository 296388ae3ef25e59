"""What the search decided, made into the game of the record: nodes, mentions, findings, remarks."""
