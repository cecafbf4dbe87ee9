"""Published figures of the trade, with their sources: read from ``protocols/data``, when asked for.

Each module answers questions of one subject. Where sources disagree, all of their values are kept
and one is the default. Local codes, labels of products and licensed practice come first.
"""
