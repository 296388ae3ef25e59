"""An archive in one run: many talks, on the cores of one machine or on a cluster, stopped and taken up at any moment."""
