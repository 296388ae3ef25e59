"""One recording may tell of several games: where each begins, and the alignment of each by itself."""
