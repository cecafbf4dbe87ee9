"""From a judged plan to what is on paper: the sheets of wall charts, and the pictures.

The chart and the diagram know nothing of the engine; here its answers become their records.
``choosing`` says which worlds are shown together, ``hands`` what the engine tells of hands,
``panels`` what is told beside the steps, ``walls`` puts sheets together; ``picture`` is that of the
order, ``room_picture`` that of the room: whoever wants one imports its module, since they bring all
that draws them with them, and charts need none of it.
"""

from protocol_lang.pages.choosing import choices_that_matter, number_of_sheets, worlds_wanted
from protocol_lang.pages.hands import hands_of_staff
from protocol_lang.pages.standing import standing
from protocol_lang.pages.walls import sheets

__all__ = [
    "choices_that_matter",
    "hands_of_staff",
    "number_of_sheets",
    "sheets",
    "standing",
    "worlds_wanted",
]
