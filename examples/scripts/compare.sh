#!/bin/sh
# The poster in three sets of inks, side by side in compare.png, with figures.
# Run it from the top folder of the project.
set -eu
go run ./cmd/platewright compare examples/poster/poster.png --shelf examples/poster/shelf.toml \
	--inks @ferry --inks @landfall --inks "@two frames" --width 297mm -o "${1:-compare.png}"
