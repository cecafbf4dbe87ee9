"""Pictures of a protocol: which step must come before which, and how far soil gets in the room.

``graph`` and ``room`` are what is in the pictures, as plain records; ``reduce`` leaves out what
follows from the rest; ``steps`` and ``rooms`` make a page of each: a ``sketch`` and what stands
round it. ``place`` runs the layout program, ``page`` has everything set in type.
"""

from protocol_lang.diagram.graph import Arrow, Graph, Node, Route
from protocol_lang.diagram.page import Format, Page, draw, text
from protocol_lang.diagram.place import CannotDraw
from protocol_lang.diagram.room import Contact, Far, Kind, Room, Spot
from protocol_lang.diagram.rooms import room_page
from protocol_lang.diagram.steps import steps_page

__all__ = [
    "Arrow",
    "CannotDraw",
    "Contact",
    "Far",
    "Format",
    "Graph",
    "Kind",
    "Node",
    "Page",
    "Room",
    "Route",
    "Spot",
    "draw",
    "room_page",
    "steps_page",
    "text",
]
