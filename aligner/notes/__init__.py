"""The hand-out of a talk: the game with what was said about it, edited for reading, as HTML and as Markdown."""

from aligner.notes.html import notes_html
from aligner.notes.markdown import notes_markdown
from aligner.notes.model import Notes
from aligner.notes.notes import take_notes

__all__ = ["Notes", "notes_html", "notes_markdown", "take_notes"]
