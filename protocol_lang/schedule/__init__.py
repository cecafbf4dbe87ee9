"""How long a visit takes, and whether what has to stay wet is left alone long enough.

``docs/meaning/time.md`` is the definition. The modules, upward::

    work      tasks with their lengths, people, order and delays: what all questions are about
    bounds    what surely takes so long: forced chains, and one person's forced load
    least     the least time between two moments over all permitted orders
    critical  one order as it runs: when everything begins, what has slack
    tasks     the work of a plan, in one world
    contact   contact times: surely kept, and by what, or an order in which one is too short
    gains     changes that save time, each worked out anew
    whole     all of it for one protocol

The first four know nothing of the field.
"""
