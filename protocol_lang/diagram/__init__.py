"""The dependency picture: which step must come before which, and the path of a fault over it.

``graph`` is what is in the picture, as plain records; ``reduce`` leaves out what follows from the
rest; ``text`` writes it in the language of the layout program, ``place`` runs that program.
"""

from protocol_lang.diagram.graph import Arrow, Graph, Node, Route
from protocol_lang.diagram.place import CannotDraw, draw
from protocol_lang.diagram.text import text

__all__ = ["Arrow", "CannotDraw", "Graph", "Node", "Route", "draw", "text"]
