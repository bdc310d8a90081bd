package shp

import (
	"bytes"
	"strconv"
	"testing"

	"github.com/paulmach/orb"
)

// zonesN is a layer of n points with a number and a text each.
func zonesN(n int) *Layer {
	l := &Layer{Name: "vines", Kind: Points, Columns: []Column{{Name: "kg_m", Decimals: 3}, {Name: "vine"}}}
	for i := range n {
		l.Shapes = append(l.Shapes, orb.Point{11.37 + float64(i%1000)*1e-5, 45.21 + float64(i/1000)*1e-5})
		l.Columns[0].Numbers = append(l.Columns[0].Numbers, float64(i%997)/500)
		l.Columns[1].Texts = append(l.Columns[1].Texts, "H3/"+strconv.Itoa(i/1000)+"/"+strconv.Itoa(i%1000))
	}
	return l
}

func BenchmarkWriteZip_200000(b *testing.B) {
	l := zonesN(200000)
	for b.Loop() {
		var w bytes.Buffer
		if _, err := WriteZip(&w, l, day0); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadZip_200000(b *testing.B) {
	var w bytes.Buffer
	if _, err := WriteZip(&w, zonesN(200000), day0); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, _, err := read(w.Bytes(), Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
