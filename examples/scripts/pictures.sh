#!/bin/sh
# Draws the example poster and makes the README's pictures from real output.
# Run it from the top folder of the project.
set -eu
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
go build -o "$work/platewright" ./cmd/platewright
go build -o "$work/picture" ./examples/picture

go run ./examples/poster/draw -o examples/poster/poster.png
"$work/platewright" separate --job examples/poster/job.toml --films none --out "$work/ferry"
"$work/picture" -job "$work/ferry" -art examples/poster/poster.png -o examples/poster/overview.png

"$work/platewright" separate --job examples/poster/job.toml --films png --trap 0.4mm --only films --out "$work/films"
"$work/picture" -job "$work/films" -films=-14,399,38,37 -o examples/poster/corner.png

for set in landfall "two frames"; do
	"$work/platewright" separate --job examples/poster/job.toml --inks "@$set" --films none --out "$work/$set"
done
"$work/picture" -sets "$work/ferry,$work/landfall,$work/two frames" -art examples/poster/poster.png -o examples/poster/sets.png

go run ./examples/poster/draw -soft -ppi 150 -o "$work/evening.png"
"$work/platewright" separate "$work/evening.png" --shelf examples/poster/shelf.toml --inks @ferry \
	--width 148.5mm --tints any --films png --out "$work/evening"
"$work/picture" -job "$work/evening" -films 60,118,28,32 -o examples/poster/films.png
