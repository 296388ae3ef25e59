"""A talk while it is spoken: captions that grow are read as far as they go, and what has no rivals left is final."""
