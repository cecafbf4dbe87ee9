"""The grammar of a line: read through :mod:`protocol_lang.resources`, never imported."""
