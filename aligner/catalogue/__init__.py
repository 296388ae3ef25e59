"""The catalogue: an archive of talks in which every move, position and word that was discussed is found."""
