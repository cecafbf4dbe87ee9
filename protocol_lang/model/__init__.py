"""What a protocol is: frozen records in which every name has been looked up.

``parts`` are the things, people and words that a room declares; ``verbs`` what the verbs of a
vocabulary do; ``steps`` the checklist itself; ``protocol`` all of it together.
"""
