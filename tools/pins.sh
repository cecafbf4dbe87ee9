#!/usr/bin/env bash
# Writes requirements/*.txt anew: exact versions with hashes, for every platform and Python that
# pyproject.toml allows. Run by `make pins`, after a range changed or to take newer versions.
set -euo pipefail
cd "$(dirname "$0")/.."
python=${1:-python3}

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
"$python" -m venv "$scratch/venv"
"$scratch/venv/bin/pip" install --quiet --disable-pip-version-check uv

# What pyproject.toml names as the build system: pinned with the rest, so that installing the
# program itself fetches nothing that is not in these files.
build='setuptools>=77'

pins() { # pins FILE WHAT OPTION...
    local file=$1 what=$2
    shift 2
    {
        echo "# $what: exact versions with hashes. Written by \`make pins\`; do not edit."
        echo "$build" | "$scratch/venv/bin/uv" pip compile pyproject.toml - --quiet --upgrade --universal \
            --python-version 3.11 --generate-hashes --no-header --no-annotate \
            --no-emit-index-url --no-emit-find-links "$@"
    } >"$scratch/pins"
    mv "$scratch/pins" "$file"
    echo "wrote $file: $(grep -c == "$file") packages"
}

# The first file holds what the program runs with; the second agrees with it and adds the rest.
pins requirements/run.txt "What the program is installed and runs with"
pins requirements/all.txt "The same, and what the tests and checks run with" \
    --constraint requirements/run.txt --extra test --extra dev
