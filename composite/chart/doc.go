// Package chart makes a test print, reads it back and puts what it measured on a
// shelf.
//
// Start with New, which lays a Chart out for a shelf's inks; its Films say what each
// pull prints, in millimetres. Chart.Read finds the printed sheet in scans or photos
// and reads its patches; ReadTable reads an instrument's. Fit turns either into a
// shelf for package composite.
//
// # Fitting
//
// A printed tint, solid or overlap replaces what the model would have guessed of
// it. Tints of overlaps bend the Neugebauer sum between its corners (see
// composite, midtone.go); the surface's share and the Yule–Nielsen factor are
// searched where enough is measured to tell. Where patches printed twice differ,
// measurements are drawn towards the model as far as chance explains them. A patch
// that the others contradict is left out and named. Where the shelf knew an ink with
// other base, or without, the base that leads from the old solids to the new ones is
// found, of simulated inks known over black within 1 % in the mean and 4.5 at most,
// and goes on the shelf where none, or another, was stated. Over all other patches of two
// measured offset conditions (FOGRA39L coated, FOGRA29L uncoated, testdata), mean
// ΔE00 and the largest:
//
//	                                             coated       uncoated
//	paper and solids alone                      3.21  7.8    4.49 10.0
//	36 patches: and overlaps, five tints an ink  .74  2.2     .83  2.9
//	71 patches: and overlaps of 40 % tints       .32  2.2     .26  1.8
//	80 patches                                   .28  1.8     .20  1.3
//	… pulls varying by ΔE 1                     1.0          .8
//	… by ΔE 2                                   1.9          1.6
//	… by ΔE 4                                   3.3          2.9
//
// # Reading
//
// Targets are rings with a dot, found by the ratios of their areas and second
// moments, which no turn and no perspective changes; a code between the upper two
// says which chart it is and whether it is mirrored. Patches are read in linear
// light as the mean of the middle half of 36 blocks, over the light of the bare
// paper around, a cubic in x and y; the paper's own color comes from the shelf. A
// sensor that does not see as the eye does is corrected by a card
// (root-polynomials, Finlayson and others 2015) or, better, by an instrument's
// readings of solids and overlaps of the chart itself: as a sensor in the same way,
// and then by what is left in each overlap. Narrow bands see inks otherwise than
// their colors tell, and no card of other dyes knows the inks: the best root-polynomial
// there is for the chart's own patches still leaves 2.2 of a narrow LED scanner, and
// its exact sensitivities with the smoothest spectra 3.1 [calc]. The register of an ink is
// what the distance of two discs, one of it and one of the ink of the targets, is
// more than true.
//
// Of 500 simulated scans and photos of prints of the conditions above, turned,
// askew, unevenly lit, noisy, blurred, dusty and out of register, all were found, and
// the register was within .09 mm. Mean ΔE00 of patches by paper alone, with a card,
// and with solids and overlaps known (go test -scans 60):
//
//	LED line scanner, bands 26 … 34 nm      3.80   3.00   1.45
//	LED line scanner, bands 34 … 46 nm      2.64   2.04   1.13
//	CCD scanner                             1.20   1.15    .86
//	flatbeds in all                         2.55   2.07   1.15
//	phones                                  1.63   1.59   1.24
//
// Of that, with a sensor that sees as the eye does: eight bits .3, blur of half a
// millimetre .6, JPEG of quality 75 .8, light uneven by 30 % and a view from 25° aside
// no more than eight bits alone.
package chart
