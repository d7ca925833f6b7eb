package artwork

// Distinct counts the distinct colors of the picture, transparency aside. It
// stops above most and returns most + 1 then.
func (p *Picture) Distinct(most int) int {
	if most < 0 {
		return 1
	}
	if p.Pix16 != nil {
		return distinct(p.Pix16, most)
	}
	return distinct(p.Pix, most)
}

func distinct[T uint8 | uint16](pix []T, most int) int {
	seen := make(map[uint64]struct{})
	last := ^uint64(0)
	for i := 0; i+2 < len(pix); i += 3 {
		key := uint64(pix[i])<<32 | uint64(pix[i+1])<<16 | uint64(pix[i+2])
		if key == last { // most pixels are like the one before
			continue
		}
		last = key
		if _, ok := seen[key]; ok {
			continue
		}
		if len(seen) == most {
			return most + 1
		}
		seen[key] = struct{}{}
	}
	return len(seen)
}
