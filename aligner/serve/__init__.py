"""The catalogue on the web: a read-only page and a JSON interface."""
