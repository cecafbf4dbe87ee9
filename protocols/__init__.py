"""The shipped protocols, rooms and vocabularies: read through :mod:`protocol_lang.resources`."""
