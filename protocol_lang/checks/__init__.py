"""From verdicts to findings: one module for each family, each asks and never prints.

``steps`` speaks of what can go wrong with the order of steps, ``soil`` of what reaches whom,
``remedies`` of changes that were tried and work. ``story`` and ``said`` give names and routes.
"""

from protocol_lang.checks.all import findings_of

__all__ = ["findings_of"]
