"""What editors and pages colour a protocol by; nothing of the program itself looks in here.

``protocol.tmLanguage.json`` and ``protocol.vim`` are made from the grammar by ``tools/editors.py``;
``lexer`` is the lexer for Pygments, which finds it once the program is installed beside it.
"""
