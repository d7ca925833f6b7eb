#!/bin/sh
# Speed and memory beside two known libraries, on the same files in one run:
# little-cms for the conversion of colors alone, libvips for the films. Prints
# medians of 5 runs of whole processes; RUNS=1 is for a quick look. Run it from
# the top folder of the project. On Debian it fetches what it lacks (as root):
# the libraries' headers and tools, a C compiler, GNU time.
set -eu
runs=${RUNS:-5}
need=
command -v gcc >/dev/null || need="$need gcc libc6-dev"
command -v pkg-config >/dev/null || need="$need pkg-config"
[ -x /usr/bin/time ] || need="$need time"
command -v vips >/dev/null || need="$need libvips-tools"
pkg-config --exists lcms2 2>/dev/null || need="$need liblcms2-dev"
pkg-config --exists vips 2>/dev/null || need="$need libvips-dev"
if [ -n "$need" ]; then
	apt-get update -qq && apt-get install -qq -y --no-install-recommends $need >/dev/null
fi
here=$(pwd)/examples/bench
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
go build -o "$work/platewright" ./cmd/platewright
go build -o "$work/rows" ./examples/bench/rows
go build -o "$work/photo" ./examples/photo
gcc -O2 -o "$work/lcms" "$here/separate.c" $(pkg-config --cflags --libs lcms2)
gcc -O2 -o "$work/films" "$here/films.c" $(pkg-config --cflags --libs vips)
cp examples/poster/poster.png "$work/poster.png"
cd "$work"

# median FIELD: of lines on stdin.
median() { awk -v f="$1" '{ print $f }' | sort -n | awk '{ v[NR] = $1 } END { print v[int((NR + 1) / 2)] }'; }

# measure COMMAND…: runs it and prints medians: seconds, seconds of work on all
# cores, MB at most.
measure() {
	rm -f times
	for run in $(seq "$runs"); do
		rm -rf out
		/usr/bin/time -a -o times -f '%e %U %S %M' "$@" >log 2>&1 || { cat log >&2; exit 1; }
	done
	e=$(median 1 <times); u=$(awk '{ print $1, $2 + $3 }' times | median 2); m=$(median 4 <times)
	awk -v e="$e" -v u="$u" -v m="$m" 'BEGIN { printf "%.2f %.2f %.0f", e, u, m / 1000 }'
}

# row NAME COMMAND…: a line of a table.
row() {
	name=$1
	shift
	set -- $(measure "$@")
	printf '  %-44s %8s s %8s s of work %6s MB\n' "$name" "$1" "$2" "$3"
	last=$1 work_done=$2
}

ratio() { awk -v a="$1" -v b="$2" 'BEGIN { printf "%.1f", a / b }'; }

echo "machine: $(nproc) cores, $(awk -F': ' '/model name/ { print $2; exit }' /proc/cpuinfo); load $(cut -d' ' -f1 /proc/loadavg); medians of $runs runs"

./photo -o a3.jpg
vips ppmsave a3.jpg photo.ppm --strip
vips ppmsave poster.png poster.ppm --strip
for f in photo poster; do LC_ALL=C sed -i '2{/^#/d}' $f.ppm; done
inks="lemon peel,poppy field,swim lane,night iris"
echo
echo "1. Separation alone, A3 at 300 ppi, one thread, in megapixels a second of processor time:"
for f in photo poster; do
	rm -f a b
	for run in $(seq "$runs"); do
		./lcms $f.ppm 3 >>a
		./rows $f.ppm 3 any "$inks" >>b
	done
	a=$(median 1 <a) b=$(median 1 <b)
	echo "  $f: little-cms to four channels $a, platewright to four inks $b: $(ratio "$b" "$a") times as fast ($(median 2 <b) s to solve the inks once)"
done

echo
echo "2. Films, A3 at 300 ppi to four plates at 1200 dpi, one bit, Deflate:"
row "libvips, four channels, a tiled matrix" ./films a3.jpg 4 film
peer=$last
row "platewright separate --only films" ./platewright separate a3.jpg --width 297mm --inks "$inks" --only films -o out
echo "    $(ratio "$peer" "$last") times as fast"
row "platewright separate, with plates, proof, sheet" ./platewright separate a3.jpg --width 297mm --inks "$inks" -o out
echo "    $(ratio "$peer" "$last") times as fast"

echo
echo "3. Growth: by size at 300 ppi, four inks, 1200 dpi"
for size in "A5 1748 2480 148" "A4 2480 3508 210" "A3 3508 4961 297" "A2 4961 7016 420" "A1 7016 9933 594"; do
	set -- $size
	./photo -o "$1.jpg" -width "$2" -height "$3"
	row "$1" ./platewright separate "$1.jpg" --width "$4mm" --inks "$inks" --only films -o out
	awk -v t="$last" -v u="$work_done" -v w="$2" -v h="$3" 'BEGIN {
		film = w * h * 16 * 4 / 1e8
		printf "    %.2f s, %.2f s of work, for 100 megapixels of film\n", t / film, u / film
	}'
done
echo "   by inks, A3 at 1200 dpi"
all="lemon peel,poppy field,swim lane,night iris,spring fern,lamp soot,peony petal,brick rust"
for n in 2 4 6 8; do
	row "$n inks" ./platewright separate a3.jpg --width 297mm --inks "$(echo "$all" | cut -d, -f1-$n)" --only films -o out
done
echo "   by film resolution, A3, four inks"
for dpi in 600 1200 2400; do
	row "$dpi dpi" ./platewright separate a3.jpg --width 297mm --inks "$inks" --film-dpi $dpi --only films -o out
done
row "A1, six inks, 1200 dpi, everything" ./platewright separate A1.jpg --width 594mm --inks "$(echo "$all" | cut -d, -f1-6)" -o out

echo
echo "4. Start-up and the first look:"
./photo -o square.jpg -width 4000 -height 4000
row "platewright version" ./platewright version
row "a quick proof of 4,000 × 4,000 pixels" ./platewright separate square.jpg --width 300mm --inks "$inks" --quick -o out
row "the whole proof" ./platewright separate square.jpg --width 300mm --inks "$inks" --only proof -o out

echo
rm -rf one all
GOMAXPROCS=1 ./platewright separate A4.jpg --width 210mm --inks "$inks" --date 2026-01-01 -o one 2>log
./platewright separate A4.jpg --width 210mm --inks "$inks" --date 2026-01-01 -o all 2>log
diff -r -x report.json -x job.toml one all && echo "One core and all cores give the same bytes."
