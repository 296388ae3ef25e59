"""The replay page and the picture of a talk: views of the record that need nothing but a browser."""
