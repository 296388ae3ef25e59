"""The desk: where a commentator settles what is doubtful, in the browser or from a script."""
