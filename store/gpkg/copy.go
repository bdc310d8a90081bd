package gpkg

import (
	"encoding/binary"
	"errors"
	"hash/crc32"

	"github.com/klauspost/compress/s2"
	"github.com/ncruces/go-sqlite3"

	"courson/geo/vine"
)

// blockCopy is a block's vines (season 0) or their states in a season as one
// compact blob, which is read twenty times as fast as the rows it was made from.
// It counts as long as nothing it shows has changed.
type blockCopy struct {
	block  vine.ID
	season int
	shows  mark
	vines  int
	data   []byte // plain; sealed when it is written
}

// mark tells states of a block apart that differ in what a copy shows.
type mark struct {
	revision int64 // of the ground or of the block
	edits    int64 // by other programs, in the whole file
}

// copyForm is the first byte of a copy. One of another form is made anew.
const copyForm = 1

// maxCopy bounds what a blob may claim to unpack to.
const maxCopy = 1 << 28

// muchAtOnce is how many vines or records a block gets in one transaction before
// its copies are made with it: whoever opens the file next would wait.
const muchAtOnce = 2000

var errCopy = errors.New("a block's copy is broken")

// markOf gives what a copy must show now; found is false where there is no such
// block.
func markOf(c *conn, block vine.ID, season int) (m mark, found bool, err error) {
	found, err = c.one(`SELECT revision, ground_rev, (SELECT value FROM counter WHERE name = 'edits')
		FROM block_revision WHERE block_id = ?`, func(s *sqlite3.Stmt) error {
		m = mark{revision: s.ColumnInt64(0), edits: s.ColumnInt64(2)}
		if season == 0 {
			m.revision = s.ColumnInt64(1)
		}
		return nil
	}, block)
	return m, found, err
}

// readCopy gives the unpacked copy that shows m, nil where there is none or it
// is broken: then the rows are read.
func readCopy(c *conn, block vine.ID, season int, m mark) (data []byte, err error) {
	_, err = c.one("SELECT data FROM block_copy WHERE block_id = ? AND season = ? AND revision = ? AND edits = ?",
		func(s *sqlite3.Stmt) error {
			data = unseal(s.ColumnRawBlob(0))
			return nil
		}, block, season, m.revision, m.edits)
	return data, err
}

// saveCopy writes a copy in place of an older one, unless the block has changed
// since it was made.
func saveCopy(c *conn, k blockCopy) error {
	now, found, err := markOf(c, k.block, k.season)
	if err != nil || !found || now != k.shows {
		return err
	}
	return c.exec("INSERT OR REPLACE INTO block_copy VALUES (?, ?, ?, ?, ?, ?)",
		k.block, k.season, k.shows.revision, k.shows.edits, k.vines, seal(k.data))
}

// saveCopies makes copies of blocks that got much in the transaction. Of the
// states it makes those of the newest season: the one that is opened.
func (t *tx) saveCopies(c *conn) error {
	for block, b := range t.touched {
		if b.written >= muchAtOnce {
			if err := t.saveStateCopy(c, block); err != nil {
				return err
			}
		}
		if b.planted >= muchAtOnce {
			if err := t.saveVineCopy(c, block); err != nil {
				return err
			}
		}
		delete(t.laid, block)
	}
	return nil
}

func (t *tx) saveVineCopy(c *conn, block vine.ID) error {
	m, _, err := markOf(c, block, 0)
	if err != nil {
		return err
	}
	l, err := t.laidIn(c, block)
	if err != nil {
		return err
	}
	if l != nil {
		return saveCopy(c, blockCopy{block: block, shows: m, vines: l.packer.n, data: l.vines()})
	}
	vines, err := readVines(c, block)
	if err != nil {
		return err
	}
	return saveCopy(c, blockCopy{block: block, shows: m, vines: len(vines), data: packVines(vines)})
}

func (t *tx) saveStateCopy(c *conn, block vine.ID) error {
	l, err := t.laidIn(c, block)
	if err != nil {
		return err
	}
	if l != nil && l.states != nil {
		p, h := &l.states.packer, &l.states.held
		m, _, err := markOf(c, block, h.season)
		if err != nil {
			return err
		}
		return saveCopy(c, blockCopy{block: block, season: h.season, shows: m, vines: p.n, data: p.end(h.words)})
	}
	seasons, err := readSeasons(c)
	if err != nil || len(seasons) == 0 {
		return err
	}
	h, rows, err := statesOf(c, block, seasons[len(seasons)-1])
	if err != nil || rows == nil {
		return err
	}
	return saveCopy(c, h.copy(block, *rows))
}

// seal packs a copy: its form, a checksum (CRC-32C) and the data in S2.
func seal(data []byte) []byte {
	out := binary.LittleEndian.AppendUint32([]byte{copyForm}, crc32.Checksum(data, castagnoli()))
	return append(out, s2.Encode(nil, data)...)
}

// unseal gives the data of a blob, nil where it is not whole.
func unseal(blob []byte) []byte {
	const head = 5
	if len(blob) < head || blob[0] != copyForm {
		return nil
	}
	if n, err := s2.DecodedLen(blob[head:]); err != nil || n > maxCopy {
		return nil
	}
	data, err := s2.Decode(nil, blob[head:])
	if err != nil || crc32.Checksum(data, castagnoli()) != binary.LittleEndian.Uint32(blob[1:]) {
		return nil
	}
	return data
}

func castagnoli() *crc32.Table { return crc32.MakeTable(crc32.Castagnoli) }

// unpacker reads packed numbers one after the other. What is not there reads as
// zero and leaves bad set: the bytes may come from a file that anyone wrote.
type unpacker struct {
	rest  []byte
	words []string
	bad   bool
}

func (u *unpacker) fail() {
	u.rest, u.bad = nil, true
}

func (u *unpacker) int() int64 {
	n, size := binary.Varint(u.rest)
	if size <= 0 {
		u.fail()
		return 0
	}
	u.rest = u.rest[size:]
	return n
}

func (u *unpacker) uint() uint64 {
	n, size := binary.Uvarint(u.rest)
	if size <= 0 {
		u.fail()
		return 0
	}
	u.rest = u.rest[size:]
	return n
}

// bytes gives the next n bytes.
func (u *unpacker) bytes(n uint64) []byte {
	if n > uint64(len(u.rest)) {
		u.fail()
		return nil
	}
	out := u.rest[:n:n]
	u.rest = u.rest[n:]
	return out
}

// count reads how many things follow of at least size bytes each.
func (u *unpacker) count(size uint64) int {
	n := u.uint()
	if n > uint64(len(u.rest))/size {
		u.fail()
		return 0
	}
	return int(n)
}

func (u *unpacker) text() string { return string(u.bytes(u.uint())) }

func (u *unpacker) word() string {
	n := u.int()
	switch {
	case n < 0:
		return ""
	case n >= int64(len(u.words)):
		u.fail()
		return ""
	}
	return u.words[n]
}

func (u *unpacker) bits() uint64 {
	if b := u.bytes(8); b != nil {
		return binary.LittleEndian.Uint64(b)
	}
	return 0
}
