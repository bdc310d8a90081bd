package crew_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/crew"
	"courson/geo/vine"
)

// at is a vine recorded in row 11 so many minutes after 8 o'clock.
func at(who string, minute, number int) crew.Seen {
	return crew.Seen{Who: who, Row: 11, Number: number, When: day(4).Add(8*time.Hour + time.Duration(minute)*time.Minute), Operation: crew.Pruning}
}

func TestClashes(t *testing.T) {
	other := at("bo", 3, 2)
	other.Row = 12
	tying := at("bo", 3, 2)
	tying.Operation = crew.Tying
	for _, c := range []struct {
		name string
		list []crew.Seen
		want []string // who and who
		both [][]int
	}{
		{"one person", []crew.Seen{at("ana", 0, 1), at("ana", 3, 2)}, nil, nil},
		{"two at once on the same vines", []crew.Seen{at("ana", 0, 1), at("ana", 6, 3), at("bo", 3, 1), at("bo", 9, 3)}, []string{"ana bo"}, [][]int{{1, 3}}},
		{"two from both ends", []crew.Seen{at("ana", 0, 1), at("ana", 6, 2), at("bo", 3, 20), at("bo", 9, 19)}, []string{"ana bo"}, [][]int{nil}},
		{"one after the other", []crew.Seen{at("ana", 0, 1), at("ana", 6, 2), at("bo", 9, 3), at("bo", 12, 4)}, nil, nil},
		{"another row", []crew.Seen{at("ana", 0, 1), at("ana", 6, 2), other}, nil, nil},
		{"another job", []crew.Seen{at("ana", 0, 1), at("ana", 6, 2), tying}, nil, nil},
		{"in the other's lunch hour", []crew.Seen{at("ana", 0, 1), at("ana", 90, 2), at("bo", 40, 3), at("bo", 50, 4)}, nil, nil},
		{"three people: each pair", []crew.Seen{at("ana", 0, 1), at("ana", 9, 2), at("bo", 3, 3), at("bo", 8, 4), at("cem", 5, 5)}, []string{"ana bo", "ana cem", "bo cem"}, [][]int{nil, nil, nil}},
		{"the same moment", []crew.Seen{at("ana", 0, 1), at("bo", 0, 1)}, []string{"ana bo"}, [][]int{{1}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var who []string
			var both [][]int
			for _, x := range crew.Clashes(c.list, 30*time.Minute) {
				who, both = append(who, x.A.Who+" "+x.B.Who), append(both, x.Both)
			}
			require.Equal(t, c.want, who)
			require.Equal(t, c.both, both)
		})
	}
}

// Every pair of records of two people in one row and job at the same moment is in
// some clash, whatever their order; visits hold the records that they are made of.
func TestClashes_NothingDropped(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) crew.Seen {
			s := at(rapid.SampledFrom([]string{"ana", "bo", "cem"}).Draw(t, "who"), rapid.IntRange(0, 90).Draw(t, "minute"), rapid.IntRange(1, 9).Draw(t, "vine"))
			s.Row += vine.ID(rapid.IntRange(0, 1).Draw(t, "row"))
			return s
		}), 0, 25).Draw(t, "records")
		got := crew.Clashes(list, 20*time.Minute)
		in := func(v crew.Visit, s crew.Seen) bool {
			return v.Who == s.Who && !s.When.Before(v.Begin) && !s.When.After(v.End)
		}
		for _, a := range list {
			for _, b := range list {
				if a.Who >= b.Who || a.Row != b.Row || !a.When.Equal(b.When) {
					continue
				}
				found := false
				for _, c := range got {
					if c.Row == a.Row && (in(c.A, a) && in(c.B, b) || in(c.A, b) && in(c.B, a)) {
						found = true
						for _, s := range list {
							if s.Row == c.Row && in(c.A, s) {
								require.Contains(t, c.A.Number, s.Number)
							}
						}
					}
				}
				require.True(t, found)
			}
		}
		require.Equal(t, got, crew.Clashes(rapid.Permutation(list).Draw(t, "order"), 20*time.Minute))
	})
}
