"""The whole set in one go: everything that is handed out about a talk, in a folder with an index page."""

from aligner.publish.folder import files_of, write_folder
from aligner.publish.parts import Talk, make

__all__ = ["Talk", "files_of", "make", "write_folder"]
