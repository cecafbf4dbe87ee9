"""What is told beside the steps of a sheet: the panels.

``fetched`` counts what is to be laid out; ``cared_for`` tells what becomes of things: covered,
disinfected, sterilised, thrown away; ``exposing`` who stands where, and the settings; ``happening``
what may happen or be found out.
"""

from __future__ import annotations

from protocol_lang.chart.sheet import Panel, PanelKind, PanelLine
from protocol_lang.pages.panels.cared_for import covered, disinfected, sterilised, waste
from protocol_lang.pages.panels.exposing import exposure_settings, stands
from protocol_lang.pages.panels.fetched import lay_out
from protocol_lang.pages.panels.happening import happens, notes_of_mishaps
from protocol_lang.pages.shown import Shown


def panels(shown: Shown) -> tuple[Panel, ...]:
    """The panels of a sheet that have something to say, in the order of printing."""
    protocol = shown.unfolded.protocol
    lines = {
        PanelKind.LAY_OUT: lay_out(shown),
        PanelKind.STANDS: stands(shown),
        PanelKind.SETTINGS: exposure_settings(shown),
        PanelKind.COVERED: covered(shown),
        PanelKind.DISINFECTED: disinfected(shown),
        PanelKind.STERILISED: sterilised(shown),
        PanelKind.WASTE: waste(shown),
        PanelKind.HAPPENS: happens(shown),
        PanelKind.CALL: tuple(PanelLine(one.name, one.how) for one in protocol.calls.values()),
    }
    notes = {
        PanelKind.SETTINGS: protocol.notes_of_exposures,
        PanelKind.HAPPENS: notes_of_mishaps(shown),
        PanelKind.CALL: protocol.notes_of_calls,
    }
    return tuple(Panel(kind, lines[kind], notes.get(kind, ())) for kind in PanelKind if lines[kind])
