"""The wall chart: from a protocol under one choice to a printed page.

``sheet`` is what is on a page, ``plan`` makes it from a protocol; ``pieces`` cuts it into what can
stand in a column, ``arrange`` finds type size, columns and pages, ``print`` sets it in type
(``typeset`` calls the typesetter).
``paper``, ``inks`` and ``words`` are facts: sizes, colours, and every word that a chart adds.
"""
