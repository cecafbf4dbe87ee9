"""One question about every order that a partial order permits, and exact answers to it.

The package knows events, orders, blocks, worlds, registers and carried marks, and nothing of the
field that the rest of the project serves. It can be used alone::

    from protocol_lang.order import Network, Question, decide

See :mod:`protocol_lang.order.question` for the words and their meaning.
"""
