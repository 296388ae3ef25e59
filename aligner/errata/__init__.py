"""Errata: misnamed moves with cause and reason, false statements, and the report of both."""
