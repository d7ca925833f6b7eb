#!/bin/sh
# How long the main job takes and how much memory: an A3 picture at 300 ppi with
# the traits of a photograph to four films at 1200 dpi. Run it from the top
# folder of the project. Wants /usr/bin/time (GNU).
set -eu
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
go build -o "$work/platewright" ./cmd/platewright
go run ./examples/photo -o "$work/hills.jpg"
cd "$work"
for run in 1 2 3; do
	/usr/bin/time -f "run $run: %e s, %U s of work, %M KB at most" \
		./platewright separate hills.jpg --width 297mm --inks @harbor --out "out-$run" 2>log ||
		{ cat log >&2; exit 1; }
	tail -n 1 log
done
# The same job must give the same films.
for film in out-1/films/*; do
	cmp "$film" "out-2/films/$(basename "$film")" && cmp "$film" "out-3/films/$(basename "$film")"
done
echo "the films of all three runs are equal, byte for byte"
