// Makes four one-bit films with libvips: the picture converted to four channels,
// each enlarged, compared with a tiled matrix of thresholds and saved as a
// one-bit TIFF packed with Deflate. Only the films go to disk; the picture and
// its four channels are read and converted once, into memory.
//
//	films picture.jpg enlargement out-prefix
#include <stdio.h>
#include <stdlib.h>
#include <vips/vips.h>

#define SIDE 27 // 45 lines an inch at 1200 dpi

static VipsImage *matrix(void) {
	unsigned char t[SIDE * SIDE];
	for (int y = 0; y < SIDE; y++) // a round dot that grows from the middle
		for (int x = 0; x < SIDE; x++) {
			int dx = 2 * x - SIDE + 1, dy = 2 * y - SIDE + 1;
			int d = (dx * dx + dy * dy) * 254 / (2 * (SIDE - 1) * (SIDE - 1));
			t[y * SIDE + x] = (unsigned char)d;
		}
	return vips_image_new_from_memory_copy(t, sizeof t, SIDE, SIDE, 1, VIPS_FORMAT_UCHAR);
}

int main(int argc, char **argv) {
	if (argc != 4 || VIPS_INIT(argv[0])) {
		fprintf(stderr, "films: give a picture, an enlargement and how the films' names begin\n");
		return 2;
	}
	double scale = atof(argv[2]);
	VipsImage *in, *four, *held;
	if (!(in = vips_image_new_from_file(argv[1], "access", VIPS_ACCESS_SEQUENTIAL, NULL)) ||
		vips_icc_transform(in, &four, "cmyk", "input_profile", "srgb", NULL) || !(held = vips_image_copy_memory(four)))
		vips_error_exit(NULL);
	VipsImage *tile = matrix();
	for (int i = 0; i < 4; i++) {
		VipsImage *one, *large, *tiles, *cut, *dots;
		char name[1000];
		snprintf(name, sizeof name, "%s-%d.tif", argv[3], i + 1);
		if (vips_extract_band(held, &one, i, NULL) ||
			vips_resize(one, &large, scale, "kernel", VIPS_KERNEL_LINEAR, NULL) ||
			vips_replicate(tile, &tiles, large->Xsize / SIDE + 1, large->Ysize / SIDE + 1, NULL) ||
			vips_crop(tiles, &cut, 0, 0, large->Xsize, large->Ysize, NULL) ||
			vips_more(large, cut, &dots, NULL) ||
			vips_tiffsave(dots, name, "compression", VIPS_FOREIGN_TIFF_COMPRESSION_DEFLATE, "predictor", VIPS_FOREIGN_TIFF_PREDICTOR_NONE,
				"bitdepth", 1, "miniswhite", TRUE, "strip", TRUE,
				"xres", 1200 / 25.4, "yres", 1200 / 25.4, NULL))
			vips_error_exit(NULL);
		g_object_unref(dots);
		g_object_unref(cut);
		g_object_unref(tiles);
		g_object_unref(large);
		g_object_unref(one);
	}
	return 0;
}
