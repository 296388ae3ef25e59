#!/bin/sh
# Sets the program up in .venv and runs its main job on the demo: the annotated game, then the summary.
set -eu
cd "$(dirname "$0")/.."
sh .ci/set-up .
exec .venv/bin/aligner align demo/rook-lift.vtt --game demo/rook-lift.pgn --title "The rook on the fourth rank"
