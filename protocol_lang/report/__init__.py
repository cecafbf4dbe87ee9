"""From findings to a page for people and to data for programs; both say the same.

``outcome`` is the record that is handed in; ``told`` puts its findings in order and gives each
its words; ``page`` and ``json`` set down what ``told`` says. Nothing here knows how a finding came
about.
"""
