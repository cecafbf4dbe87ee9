"""Cards beside the wall chart, from the same sheets: a sheet for somebody who observes, a card for
the door that tells what is put on and taken off, and a summary on one page.

``common`` has what all three are given; ``observation``, ``door`` and ``summary`` each make one,
with a template of the same name. Their words stand with those of the chart, in ``chart/words.py``.
"""
