"""Lists the packages to install; everything else about the project is in pyproject.toml.

The folders ``grammar`` and ``protocols`` lie beside ``protocol_lang``, where people look for them,
and are installed inside it. Automatic discovery cannot say that, and a list written by hand would
leave out the next new package without a word.
"""

from setuptools import find_packages, setup

setup(
    packages=[
        *find_packages(include=["protocol_lang", "protocol_lang.*"]),
        "protocol_lang.grammar",
        "protocol_lang.protocols",
    ]
)
