package csv

import (
	"bytes"
	stdcsv "encoding/csv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// No name may stand for two fields.
func TestNames_AreUnique(t *testing.T) {
	seen := map[string]Field{}
	for f, list := range names() {
		for _, n := range list {
			require.Empty(t, seen[n], n)
			require.Equal(t, n, plainName(n))
			seen[n] = f
		}
	}
}

// Whatever texts are written come back, from our reader and from another one.
func TestWriter_RoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cells := rapid.SliceOfN(rapid.StringMatching(`[a-z=+\-@',;"\n é]{0,12}`), 1, 5).Draw(t, "cells")
		header := make([]string, len(cells))
		for i := range header {
			header[i] = string(rune('a' + i))
		}
		var b bytes.Buffer
		w := NewWriter(&b, header)
		for _, c := range cells {
			w.Text(c)
		}
		require.NoError(t, w.End())
		require.NoError(t, w.Close())
		std, err := stdcsv.NewReader(bytes.NewReader(b.Bytes())).ReadAll()
		require.NoError(t, err)
		if len(std) < 2 {
			require.Len(t, cells, 1)
			require.Empty(t, cells[0])
			return
		}
		for i, c := range cells {
			require.Equal(t, c, Unguard(std[1][i]))
			require.False(t, std[1][i] != "" && strings.ContainsRune("=+-@", rune(std[1][i][0])), "a spreadsheet would run %q", std[1][i])
		}
		sp := newSplitter(bytes.NewReader(b.Bytes()), ',')
		_, err = sp.next()
		require.NoError(t, err)
		rec, err := sp.next()
		require.NoError(t, err)
		for i, c := range cells {
			require.Equal(t, c, Unguard(string(rec.Fields[i])))
		}
	})
}

func TestWriter_NumbersStayNumbers(t *testing.T) {
	var b bytes.Buffer
	w := NewWriter(&b, []string{"n", "x", "t"})
	w.Int(-2)
	w.Float(-0.5)
	w.Text("-weak left arm")
	require.NoError(t, w.End())
	require.NoError(t, w.Close())
	require.Equal(t, "n,x,t\r\n-2,-0.5,'-weak left arm\r\n", b.String())
}
