"""An archive in one run: many talks, on the cores of one machine or on a cluster, stopped and resumed at any moment."""
