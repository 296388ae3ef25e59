#!/bin/sh
# Sets up what the tests need in .venv, then checks style and types and runs all tests.
set -eu
cd "$(dirname "$0")/.."
sh .ci/set-up --editable '.[tests]'
.venv/bin/ruff check aligner tests
.venv/bin/mypy
exec .venv/bin/python -m pytest "$@"
