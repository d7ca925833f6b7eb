// Package separate splits a picture into coverages of a few overlapping inks:
// the inverse of package composite.
//
// Call Separate with a flattened artwork.Picture and a composite.Model; the
// Result holds one plate per ink. NewSolver answers for single colors.
//
// # One color
//
// The coverages c of k inks for a wanted color t minimize, within 0 … 1,
//
//	|r(c)|² + p·c + f·over(c)
//
// where r is the difference of the printed color to t in CIELAB under D50,
// weighed around the middle of the two as CIEDE2000 weighs small differences,
// so that |r| is ΔE00 for small and near it for large ones; p are small prices
// of ink, and over(c) is the coverage of the inks beyond the cap of one spot.
// Damped Gauss–Newton steps (Levenberg 1944, Marquardt 1963) are each a
// bounded least-squares problem, solved exactly by an active set (Stark and
// Parker 1995). The derivatives come from the model itself.
//
// # A whole picture
//
// Overlapping inks give many colors in several ways, and solved color by color
// plates would jump between them. So a lattice over the color cube of the
// picture's encoding is solved as one field: from a coarse grid to a fine one,
// each node is pulled toward the means of its opposite neighbors, which costs
// nothing where coverage runs straight. Four inks and more give a color along a
// whole line of coverages; prices are chosen so that every line falls in the
// same sense, and the field takes the same end of each. Inks beyond a spot's
// cap, if it is three or more, are then taken away, along those lines first.
// Colors are read from the lattice by tetrahedral interpolation, in cells
// subdivided where inks switch; or, for pictures of few colors, each color is
// refined, held to the field's branch.
//
// Where the plates may hold solids only, or a list of tints, each flat of the
// picture has one label, a combination of them; see Labels.
package separate
