"""From a protocol to what its steps do to soil, and the questions that decide what may happen.

``kernel`` holds the definition (what ``docs/meaning/kernel.md`` says in words), the other modules
compute with it. Nothing here reads text or prints.
"""
