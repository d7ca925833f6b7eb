// Converts 8-bit RGB to four channels with little-cms, one thread, its cache
// off, and prints the megapixels a second. The four channels come from a lattice
// of 33 nodes a side, as a link from RGB to four channels holds one; its contents
// do not matter for the time.
//
//	separate picture.ppm repeats
#include <lcms2.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static double now(void) {
	struct timespec t;
	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return t.tv_sec + t.tv_nsec * 1e-9;
}

// A plain separation: three inks and black.
static cmsInt32Number sample(const cmsUInt16Number in[], cmsUInt16Number out[], void *cargo) {
	cmsUInt32Number c = 65535 - in[0], m = 65535 - in[1], y = 65535 - in[2];
	cmsUInt32Number k = c < m ? c : m;
	k = k < y ? k : y;
	k = (cmsUInt32Number)((double)k * k / 65535);
	out[0] = c - k;
	out[1] = m - k;
	out[2] = y - k;
	out[3] = k;
	(void)cargo;
	return TRUE;
}

int main(int argc, char **argv) {
	if (argc != 3) {
		fprintf(stderr, "separate: give a PPM and how many times to convert it\n");
		return 2;
	}
	FILE *f = fopen(argv[1], "rb");
	int w, h;
	if (!f || fscanf(f, "P6 %d %d 255", &w, &h) != 2 || fgetc(f) == EOF) {
		fprintf(stderr, "separate: %s is not a PPM of 8 bits\n", argv[1]);
		return 1;
	}
	size_t n = (size_t)w * h;
	unsigned char *rgb = malloc(3 * n), *out = calloc(n, 4);
	if (!rgb || !out || fread(rgb, 3, n, f) != n) {
		fprintf(stderr, "separate: %s ends too soon\n", argv[1]);
		return 1;
	}
	fclose(f);
	cmsHPROFILE link = cmsCreateProfilePlaceholder(NULL);
	cmsSetDeviceClass(link, cmsSigLinkClass);
	cmsSetColorSpace(link, cmsSigRgbData);
	cmsSetPCS(link, cmsSigCmykData);
	cmsSetProfileVersion(link, 4.3);
	cmsStage *clut = cmsStageAllocCLut16bit(NULL, 33, 3, 4, NULL);
	cmsStageSampleCLut16bit(clut, sample, NULL, 0);
	cmsPipeline *p = cmsPipelineAlloc(NULL, 3, 4);
	cmsPipelineInsertStage(p, cmsAT_END, clut);
	cmsWriteTag(link, cmsSigAToB0Tag, p);
	cmsHTRANSFORM t = cmsCreateTransform(link, TYPE_RGB_8, NULL, TYPE_CMYK_8, INTENT_PERCEPTUAL, cmsFLAGS_NOCACHE);
	if (!t) {
		fprintf(stderr, "separate: little-cms makes no transform\n");
		return 1;
	}
	int repeats = atoi(argv[2]);
	double start = now();
	for (int i = 0; i < repeats; i++)
		for (int y = 0; y < h; y++) // row by row, as a reader hands them on
			cmsDoTransform(t, rgb + (size_t)3 * w * y, out + (size_t)4 * w * y, w);
	printf("%.2f\n", (double)n * repeats / (now() - start) / 1e6);
	return 0;
}
