"""From the bytes of a file to a protocol in which every name has been looked up.

Level 0, text: bytes to characters (:mod:`protocol_lang.text`). Level 1, lines and blocks:
``layout`` makes a tree of raw lines, ``reader`` reads each line alone, ``tree`` is the result,
``neaten`` prints it again. Level 2, names and sentences, turns trees into the model.
"""
