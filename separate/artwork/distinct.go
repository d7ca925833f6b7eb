package artwork

// Distinct counts the distinct colors of the picture, transparency aside. It
// stops above most and returns most + 1 then.
func (p *Picture) Distinct(most int) int {
	if most < 0 {
		return 1
	}
	if p.Pix16 != nil {
		return distinct16(p.Pix16, most)
	}
	return distinct8(p.Pix, most)
}

// distinct8 marks the colors in a table of all 2²⁴.
func distinct8(pix []uint8, most int) int {
	seen := make([]uint64, 1<<24/64)
	n := 0
	last := uint32(1 << 31)
	for i := 0; i+2 < len(pix); i += 3 {
		key := uint32(pix[i])<<16 | uint32(pix[i+1])<<8 | uint32(pix[i+2])
		if key == last { // most pixels are like the one before
			continue
		}
		last = key
		if bit := uint64(1) << (key & 63); seen[key>>6]&bit == 0 {
			if n == most {
				return most + 1
			}
			seen[key>>6] |= bit
			n++
		}
	}
	return n
}

func distinct16(pix []uint16, most int) int {
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
