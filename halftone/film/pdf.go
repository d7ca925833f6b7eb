package film

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash"
	"io"
	"strings"
	"unicode/utf16"
)

// pdfFile writes the objects of a PDF 1.7 (ISO 32000-1) one after the other and
// keeps where each begins. Errors wait until close.
type pdfFile struct {
	w       *bufio.Writer
	sum     hash.Hash // of all bytes so far: the file's identifier
	at      int64
	offsets []int64 // of object i+1; 0 while it is only promised
	err     error
}

func newPDF(w io.Writer) *pdfFile {
	f := &pdfFile{sum: sha256.New()}
	f.w = bufio.NewWriterSize(io.MultiWriter(w, f.sum), 64<<10)
	f.printf("%%PDF-1.7\n%%\xe2\xe3\xcf\xd3\n")
	return f
}

func (f *pdfFile) write(b []byte) {
	if f.err == nil {
		_, f.err = f.w.Write(b)
		f.at += int64(len(b))
	}
}

func (f *pdfFile) printf(format string, a ...any) { f.write(fmt.Appendf(nil, format, a...)) }

// promise numbers an object to be written later.
func (f *pdfFile) promise() int {
	f.offsets = append(f.offsets, 0)
	return len(f.offsets)
}

// object writes a promised object.
func (f *pdfFile) object(id int, format string, a ...any) {
	f.offsets[id-1] = f.at
	f.printf("%d 0 obj\n%s\nendobj\n", id, fmt.Sprintf(format, a...))
}

// add writes an object and returns its number.
func (f *pdfFile) add(format string, a ...any) int {
	id := f.promise()
	f.object(id, format, a...)
	return id
}

// stream writes a deflated stream; dict is what its dictionary says besides.
func (f *pdfFile) stream(dict string, data []byte) int {
	return f.streamed(dict+" /Filter /FlateDecode", func() error {
		p, err := newPacker().pack(data, true, true)
		f.write(binary.BigEndian.AppendUint32(p.data, p.adler))
		return err
	})
}

// streamed writes a stream whose length is not known before; body writes it.
func (f *pdfFile) streamed(dict string, body func() error) int {
	id, length := f.promise(), f.promise()
	f.offsets[id-1] = f.at
	f.printf("%d 0 obj\n<< %s /Length %d 0 R >>\nstream\n", id, strings.TrimSpace(dict), length)
	from := f.at
	if err := body(); err != nil && f.err == nil {
		f.err = err
	}
	n := f.at - from
	f.printf("\nendstream\nendobj\n")
	f.object(length, "%d", n)
	return id
}

// mask writes a one-bit picture as an image mask that paints its 1 bits.
func (f *pdfFile) mask(b Bits, c Compression) int {
	w, h := b.Size()
	stride := (w + 7) / 8
	rows := chunkRows(stride)
	n := (h + rows - 1) / rows
	span := func(i int) (y0, y1 int) { return i * rows, min(h, (i+1)*rows) }
	dict := fmt.Sprintf("/Type /XObject /Subtype /Image /Width %d /Height %d /ImageMask true /BitsPerComponent 1", w, h)
	if c == Group4 {
		// Black is 0 there, and 0 paints.
		dict += fmt.Sprintf(" /Filter /CCITTFaxDecode /DecodeParms << /K -1 /Columns %d /Rows %d >>", w, h)
		return f.streamed(dict, func() error {
			var all bitWriter
			err := inOrder(n, newPacker, func(p *packer, i int) (group4Part, error) {
				y0, y1 := span(i)
				return packGroup4(p, b, stride, y0, y1), nil
			}, func(part group4Part) error {
				all.join(part.data, part.bits)
				f.write(all.out)
				all.out = all.out[:0]
				return f.err
			})
			all.endOfBlock()
			all.flush()
			f.write(all.out)
			return err
		})
	}
	return f.streamed(dict+" /Decode [1 0] /Filter /FlateDecode", func() error {
		return f.deflate(n, func(p *packer, i int) []byte {
			y0, y1 := span(i)
			raw := p.rows(stride * (y1 - y0))
			b.Rows(raw, stride, y0, y1)
			return raw
		})
	})
}

// deflate writes n pieces as one zlib stream, packed on all cores.
func (f *pdfFile) deflate(n int, piece func(p *packer, i int) []byte) error {
	adler := uint32(1)
	err := inOrder(n, newPacker, func(p *packer, i int) (part, error) {
		return p.pack(piece(p, i), i == 0, i == n-1)
	}, func(c part) error {
		adler = joinAdler(adler, c.adler, c.raw)
		f.write(c.data)
		return f.err
	})
	f.write(binary.BigEndian.AppendUint32(nil, adler))
	return err
}

// group4Part is rows coded by themselves, with how many bits of the data count.
type group4Part struct {
	data []byte
	bits int
}

// packGroup4 codes rows y0 … y1-1 of one Group 4 picture; only the row above them
// is needed for that.
func packGroup4(p *packer, b Bits, stride, y0, y1 int) group4Part {
	from := max(0, y0-1)
	raw := p.rows(stride * (y1 - from))
	b.Rows(raw, stride, from, y1)
	var above []byte
	if from < y0 {
		above, raw = raw[:stride], raw[stride:]
	}
	w, _ := b.Size()
	var bw bitWriter
	for i := 0; i < len(raw); i += stride {
		bw.group4Row(raw[i:i+stride], above, w)
		above = raw[i : i+stride]
	}
	n := bw.bitLen()
	bw.flush()
	return group4Part{bw.out, n}
}

// info writes the document information.
func (f *pdfFile) info(info Info) int {
	d := "<< /Producer " + pdfText(software)
	if info.Title != "" {
		d += " /Title " + pdfText(info.Title)
	}
	if info.Description != "" {
		d += " /Subject " + pdfText(info.Description)
	}
	if !info.Date.IsZero() {
		d += " /CreationDate " + pdfText(info.Date.UTC().Format("D:20060102150405")+"+00'00'")
	}
	return f.add("%s >>", d)
}

// close writes the catalog, the cross-reference table and the trailer.
func (f *pdfFile) close(pages []int, tree int, info Info) error {
	var kids bytes.Buffer
	for _, p := range pages {
		fmt.Fprintf(&kids, "%d 0 R ", p)
	}
	f.object(tree, "<< /Type /Pages /Count %d /Kids [ %s] >>", len(pages), kids.String())
	// Printing at any other scale than 100 % would spoil the film.
	root := f.add("<< /Type /Catalog /Pages %d 0 R /ViewerPreferences << /PrintScaling /None >> >>", tree)
	about := f.info(info)
	at := f.at
	f.printf("xref\n0 %d\n0000000000 65535 f \n", len(f.offsets)+1)
	for _, o := range f.offsets {
		f.printf("%010d 00000 n \n", o)
	}
	if f.err == nil {
		f.err = f.w.Flush()
	}
	id := f.sum.Sum(nil)[:16]
	f.printf("trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R /ID [<%x> <%x>] >>\nstartxref\n%d\n%%%%EOF\n", len(f.offsets)+1, root, about, id, id, at)
	if f.err == nil {
		f.err = f.w.Flush()
	}
	return f.err
}

// pdfText writes a text string: as it stands where it is ASCII, else UTF-16 with
// its mark, in hexadecimal (ISO 32000-1, 7.9.2.2).
func pdfText(s string) string {
	ascii := true
	for _, r := range s {
		ascii = ascii && r >= ' ' && r <= '~'
	}
	if ascii {
		return "(" + strings.NewReplacer(`\`, `\\`, "(", `\(`, ")", `\)`).Replace(s) + ")"
	}
	var b strings.Builder
	b.WriteString("<FEFF")
	for _, u := range utf16.Encode([]rune(s)) {
		fmt.Fprintf(&b, "%04X", u)
	}
	return b.String() + ">"
}

// pdfName writes a name; what is not a plain character is #xx (7.3.5).
func pdfName(s string) string {
	var b strings.Builder
	b.WriteByte('/')
	for _, c := range []byte(s) {
		if c > ' ' && c <= '~' && !strings.ContainsRune("#()<>[]{}/%", rune(c)) {
			b.WriteByte(c)
		} else {
			fmt.Fprintf(&b, "#%02X", c)
		}
	}
	return b.String()
}
