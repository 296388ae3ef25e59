"""Chapters of a talk: the moments that matter, chosen and titled, as WebVTT and as a plain list."""

from aligner.chapters.chapters import Chapter, choose
from aligner.chapters.webvtt import chapter_list, chapter_track

__all__ = ["Chapter", "chapter_list", "chapter_track", "choose"]
