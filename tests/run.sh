#!/bin/sh
# Sets up what the tests need in .venv, then checks style and types and runs all tests.
set -eu
cd "$(dirname "$0")/.."
sh .ci/set-up --editable '.[tests]'
# the two scripts that came with the task stay as they are
.venv/bin/ruff check aligner tests --extend-exclude tests/measure/talkscript.py,tests/measure/score.py
.venv/bin/mypy
exec .venv/bin/python -m pytest "$@"
