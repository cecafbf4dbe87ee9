"""Writes the form of the report of an audit anew, from the records that it tells of."""

from __future__ import annotations

import json

from protocol_lang.audit.data import SCHEMA, schema

if __name__ == "__main__":
    SCHEMA.write_text(json.dumps(schema(), indent=1) + "\n", encoding="utf-8")
    print(f"wrote {SCHEMA.name}")
