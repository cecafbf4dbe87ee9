"""Measurements of speed and size: ``python -m bench`` runs them all.

They are no tests: a busy machine must not turn a change down. Each states its bars beside what it
measured, and says where one is not met.
"""
