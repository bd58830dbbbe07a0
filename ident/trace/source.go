package trace

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"hash"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

const (
	blockSize = 1 << 20
	// longestLine is far above any recorder's row; a longer line is not a log.
	longestLine = 1 << 19
	sniffSize   = 64 << 10
	mostBlocks  = 3 // one being read, one waiting, one being scanned
)

// source reads, hashes and decodes a log ahead of the scanner, one block at a time.
type source struct {
	full chan []byte // blocks of room bytes of headroom, then data
	free chan []byte
	err  error // why the blocks ended; read after full is closed
	// room for the beginning of a line that the block before left, and the data of
	// a full block (bytes)
	room, block int

	encoding string
	latin    bool // bytes above 127 are Windows-1252
	wide     bool // UTF-16
	hash     hash.Hash
	bytes    int64
}

// openSource starts reading. The goroutine ends with the data, an error or ctx.
func openSource(ctx context.Context, r io.Reader, progress func(int64)) (*source, error) {
	s := &source{full: make(chan []byte, 2), free: make(chan []byte, mostBlocks), hash: sha256.New(), room: longestLine, block: blockSize}
	counted := bufio.NewReaderSize(&counter{ctx: ctx, r: r, s: s, progress: progress}, sniffSize)
	head, err := counted.Peek(sniffSize)
	if err != nil && err != io.EOF {
		return nil, err
	}
	decoded, fault := s.decode(counted, head)
	if fault != nil {
		return nil, fault
	}
	if err == io.EOF { // the whole file is in the head, and UTF-8 takes at most half as much again
		s.room, s.block = 0, 2*len(head)+1
	}
	go s.run(ctx, decoded)
	return s, nil
}

func (s *source) run(ctx context.Context, r io.Reader) {
	defer close(s.full)
	for made := 0; ; made++ {
		if made < mostBlocks {
			s.free <- make([]byte, s.room+s.block)
		}
		var buf []byte
		select {
		case buf = <-s.free:
		case <-ctx.Done():
			s.err = ctx.Err()
			return
		}
		n, err := io.ReadFull(r, buf[s.room:])
		if n > 0 {
			select {
			case s.full <- buf[:s.room+n]:
			case <-ctx.Done():
				s.err = ctx.Err()
				return
			}
		}
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return
		}
		if err != nil {
			s.err = err
			return
		}
	}
}

// characters returns about how many bytes the scanner gets of a log of size bytes: a log
// is all but ASCII, which takes two bytes a character in UTF-16.
func (s *source) characters(size int64) int64 {
	if s.wide {
		return size / 2
	}
	return size
}

// sum returns the hash of all raw bytes; call it after full is closed.
func (s *source) sum() string { return hex.EncodeToString(s.hash.Sum(nil)) }

// counter hashes and counts what passes, and stops when ctx is done.
type counter struct {
	ctx      context.Context
	r        io.Reader
	s        *source
	progress func(int64)
}

func (c *counter) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := c.r.Read(p)
	c.s.hash.Write(p[:n])
	c.s.bytes += int64(n)
	if c.progress != nil {
		c.progress(c.s.bytes)
	}
	return n, err
}

// decode chooses the text encoding from the head of the file and returns a
// reader of what the scanner reads: UTF-8, or Windows-1252 as it is, of which
// only header texts need translating.
func (s *source) decode(r *bufio.Reader, head []byte) (io.Reader, error) {
	if kind := fileKind(head); kind != "" {
		return nil, &ReadError{Problem: "this is " + kind + ", needed a CSV text", Advice: "export the recording as CSV"}
	}
	wide := func(name string, order unicode.Endianness) io.Reader {
		s.encoding, s.wide = name, true
		return unicode.UTF16(order, unicode.UseBOM).NewDecoder().Reader(r)
	}
	switch {
	case bytes.HasPrefix(head, []byte{0xef, 0xbb, 0xbf}):
		s.encoding = "UTF-8"
		_, err := r.Discard(3)
		return r, err
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}):
		return wide("UTF-16LE", unicode.LittleEndian), nil
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return wide("UTF-16BE", unicode.BigEndian), nil
	}
	switch even, odd := zeros(head); {
	case odd > len(head)/4 && even*8 < odd:
		return wide("UTF-16LE", unicode.LittleEndian), nil
	case even > len(head)/4 && odd*8 < even:
		return wide("UTF-16BE", unicode.BigEndian), nil
	case even+odd > 0:
		return nil, &ReadError{Problem: "holds binary data, needed a CSV text", Advice: "export the recording as CSV"}
	}
	s.encoding = "UTF-8"
	if !validUTF8(head) {
		s.encoding, s.latin = "Windows-1252", true
	}
	return r, nil
}

// zeros counts the zero bytes at even and odd offsets.
func zeros(b []byte) (even, odd int) {
	for i, c := range b {
		if c == 0 && i%2 == 0 {
			even++
		} else if c == 0 {
			odd++
		}
	}
	return even, odd
}

// validUTF8 is utf8.Valid with grace for a character cut at the end.
func validUTF8(b []byte) bool {
	for cut := 0; cut < utf8.UTFMax && cut <= len(b); cut++ {
		if utf8.Valid(b[:len(b)-cut]) {
			return true
		}
	}
	return false
}

var fileKinds = []struct{ magic, kind string }{
	{"PK\x03\x04", "a zip archive or spreadsheet"},
	{"\x1f\x8b", "a compressed file (gzip)"},
	{"\x89PNG", "an image"},
	{"\xff\xd8\xff", "an image"},
	{"GIF8", "an image"},
	{"%PDF", "a PDF document"},
	{"\xd0\xcf\x11\xe0", "an old spreadsheet"},
	{"\x7fELF", "a program"},
	{"MZ\x90", "a program"},
	{"BZh", "a compressed file (bzip2)"},
	{"7z\xbc\xaf", "a 7-zip archive"},
	{"\xfd7zXZ", "a compressed file (xz)"},
}

func fileKind(head []byte) string {
	for _, k := range fileKinds {
		if bytes.HasPrefix(head, []byte(k.magic)) {
			return k.kind
		}
	}
	return ""
}

// text returns bytes of the file as a string.
func (s *source) text(b []byte) string {
	if !s.latin {
		return string(b)
	}
	var dec *encoding.Decoder = charmap.Windows1252.NewDecoder()
	out, err := dec.Bytes(b)
	if err != nil {
		return string(b)
	}
	return string(out)
}
