"""Reading figures out of a scene into plain records, without changing the file."""

from .figures import FigureSource, armature_of, find_figures, read_figure

__all__ = ["FigureSource", "armature_of", "find_figures", "read_figure"]
