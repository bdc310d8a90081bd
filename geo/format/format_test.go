package format

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestProblem_Error(t *testing.T) {
	for want, p := range map[string]*Problem{
		"rows.geojson, feature 2 (line 4), row: used twice; found 5; wanted another": {File: "rows.geojson", Feature: 2, Line: 4, Field: "row", What: "used twice", Found: "5", Wanted: "another"},
		"vines.csv, line 7: too few values":                                          {File: "vines.csv", Feature: None, Line: 7, What: "too few values"},
		"feature 0: no place":                                                        {Feature: 0, What: "no place"},
		"season: not a season":                                                       {Feature: None, Field: "season", What: "not a season"},
		"empty":                                                                      {Feature: None, What: "empty"},
	} {
		require.Equal(t, want, p.Error())
	}
	cause := errors.New("cause")
	require.ErrorIs(t, &Problem{Feature: None, What: "x", Cause: cause}, cause)
}

func TestProblem_JSON(t *testing.T) {
	text, err := json.Marshal(&Problem{File: "a", Feature: 0, Line: 2, What: "bad"})
	require.NoError(t, err)
	require.JSONEq(t, `{"file":"a","feature":0,"line":2,"what":"bad","text":"a, feature 0 (line 2): bad"}`, string(text))
	text, err = json.Marshal(&Problem{Feature: None, What: "bad"})
	require.NoError(t, err)
	require.JSONEq(t, `{"what":"bad","text":"bad"}`, string(text))
}

func TestNotices_AreJoined(t *testing.T) {
	var n Notices
	for i := range 30 {
		n.Add("a.geojson", "ring 0", i, i+1, "turned round")
	}
	n.Add("a.geojson", "", None, 3, "blanks")
	n.Merge(Notice{Text: "all of it", Count: 1})
	list := n.List()
	require.Len(t, list, 3)
	require.Equal(t, 30, list[0].Count)
	require.True(t, strings.HasPrefix(list[0].String(), "a.geojson, features 0, 1, 2, "))
	require.True(t, strings.HasSuffix(list[0].String(), " 19 and 10 more, ring 0: turned round"))
	require.Equal(t, "a.geojson, line 3: blanks", list[1].String())
	require.Equal(t, "all of it", list[2].String())
	c := n.Clone()
	c.Add("a.geojson", "", None, 4, "blanks")
	require.Equal(t, 1, n.List()[1].Count, "a copy goes its own way")
}

func TestNearest(t *testing.T) {
	known := []string{"block", "row", "vine", "status", "vine_spacing"}
	for word, want := range map[string]string{"vien": "vine", "blokc": "block", "Satus": "status", "rows": "row", "colour": "", "vinespacing": "vine_spacing", "": ""} {
		require.Equal(t, want, Nearest(word, known), word)
	}
}

func TestQuote(t *testing.T) {
	require.Equal(t, `"a\nb"`, Quote("a\nb"))
	require.Equal(t, `"`+strings.Repeat("é", 60)+`"…`, Quote(strings.Repeat("é", 100)))
}

// What is unpacked never passes its limits, and an error names what is wrong.
func FuzzUnpack(f *testing.F) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, err := z.Write(bytes.Repeat([]byte(" "), 1<<16))
	require.NoError(f, err)
	require.NoError(f, z.Close())
	f.Add(b.Bytes())
	f.Add(append(b.Bytes()[:20:20], b.Bytes()...))
	f.Add([]byte("plain"))
	f.Add([]byte{0x1f, 0x8b})
	f.Fuzz(func(t *testing.T, data []byte) {
		const most = 1 << 18
		r, err := Unpack(bytes.NewReader(data), Limits{MaxBytes: most})
		if err != nil {
			return
		}
		n, err := io.Copy(io.Discard, r)
		require.LessOrEqual(t, n, int64(most))
		var p *Problem
		require.True(t, err == nil || errors.As(err, &p), "%v", err)
	})
}
