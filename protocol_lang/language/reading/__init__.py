"""How the raw lines of a file become its tree: the parts of :mod:`protocol_lang.language.reader`.

``lines`` parses one line alone; ``faults`` tells what is wrong in one that does not parse;
``openers`` knows which lines may stand where; ``desk`` is what the rest works at. ``claims``,
``checklist``, ``declarations`` and ``verbs`` each build the nodes of their own kinds of line.
"""
