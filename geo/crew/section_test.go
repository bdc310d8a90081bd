package crew_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/crew"
)

func upTo(n int) (numbers []int) {
	for k := range n {
		numbers = append(numbers, k+1)
	}
	return numbers
}

// A row of 20 vines with eight between two posts: the 13th is the fifth of the
// second section; from the far end, where the short section stands first, it is
// the fourth of the second.
func TestSections(t *testing.T) {
	s, err := crew.Even(upTo(20), 8)
	require.NoError(t, err)
	require.Equal(t, 3, s.Count())
	for _, c := range []struct {
		number        int
		from          crew.End
		section, slot int
	}{
		{1, crew.FromNear, 1, 1}, {8, crew.FromNear, 1, 8}, {9, crew.FromNear, 2, 1}, {13, crew.FromNear, 2, 5}, {20, crew.FromNear, 3, 4},
		{20, crew.FromFar, 1, 1}, {17, crew.FromFar, 1, 4}, {16, crew.FromFar, 2, 1}, {13, crew.FromFar, 2, 4}, {1, crew.FromFar, 3, 8},
	} {
		section, slot, err := s.Place(c.number, c.from)
		require.NoError(t, err)
		require.Equal(t, [2]int{c.section, c.slot}, [2]int{section, slot}, "vine %d", c.number)
	}
	for _, c := range [][2]int{{0, 1}, {4, 1}, {3, 5}, {1, 0}} {
		_, err := s.Number(c[0], c[1], crew.FromNear)
		require.ErrorIs(t, err, crew.ErrSection)
	}
	_, _, err = s.Place(21, crew.FromNear)
	require.ErrorIs(t, err, crew.ErrSection)
}

// Posts where they stand: the first section is short, a vine at a post begins the
// next one, and one between two posts without vines changes nothing.
func TestSections_ByPosts(t *testing.T) {
	s, err := crew.ByPosts([]int{1, 2, 3, 5}, []float64{0.5, 1.5, 2.5, 4.5}, []float64{0, 1.5, 3, 3.5, 6})
	require.NoError(t, err)
	require.Equal(t, 3, s.Count())
	for _, c := range [][3]int{{1, 1, 1}, {2, 2, 1}, {3, 2, 2}, {5, 3, 1}} {
		section, slot, err := s.Place(c[0], crew.FromNear)
		require.NoError(t, err)
		require.Equal(t, c, [3]int{c[0], section, slot})
	}
	_, err = crew.ByPosts([]int{1, 2}, []float64{2, 1}, nil)
	require.ErrorIs(t, err, crew.ErrSection)
	_, err = crew.ByPosts([]int{1, 2}, []float64{1}, nil)
	require.ErrorIs(t, err, crew.ErrSection)
	_, err = crew.Even([]int{2, 2}, 8)
	require.ErrorIs(t, err, crew.ErrSection)
	_, err = crew.Even(nil, 0)
	require.ErrorIs(t, err, crew.ErrSection)
}

// Number to section and slot and back is the same vine, from either end; slots
// rise by one as one walks.
func TestSections_RoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var numbers []int
		for n := 1; n <= rapid.IntRange(1, 80).Draw(t, "vines"); n++ {
			if rapid.IntRange(0, 9).Draw(t, "no such number") > 0 {
				numbers = append(numbers, n)
			}
		}
		s, err := crew.Even(numbers, rapid.IntRange(1, 12).Draw(t, "per section"))
		require.NoError(t, err)
		from := crew.End(rapid.IntRange(0, 1).Draw(t, "end"))
		section, slot := 1, 0
		for k := range numbers {
			n := numbers[k]
			if from == crew.FromFar {
				n = numbers[len(numbers)-1-k]
			}
			se, sl, err := s.Place(n, from)
			require.NoError(t, err)
			if se != section {
				require.Equal(t, section+1, se)
				slot = 0
			}
			require.Equal(t, slot+1, sl)
			section, slot = se, sl
			back, err := s.Number(se, sl, from)
			require.NoError(t, err)
			require.Equal(t, n, back)
		}
	})
}

func TestCheckPoints(t *testing.T) {
	st := block(t, "oo_ooooooxr_oooo")
	s, err := crew.Even(crew.Numbers(st.Ground, 0), 8)
	require.NoError(t, err)
	say := func(from crew.End, apart int) (out []string) {
		points, err := crew.CheckPoints(st, 0, s, from, apart)
		require.NoError(t, err)
		for _, p := range points {
			out = append(out, p.String())
		}
		return out
	}
	require.Equal(t, []string{"vine 3 missing: section 1, slot 3", "vine 10 dead: section 2, slot 2", "vine 11 replanted: section 2, slot 3", "vine 12 missing: section 2, slot 4"}, say(crew.FromNear, 0))
	require.Equal(t, []string{"vine 3 missing: section 1, slot 3", "vine 10 dead: section 2, slot 2"}, say(crew.FromNear, 5))
	require.Equal(t, []string{"vine 12 missing: section 1, slot 5", "vine 3 missing: section 2, slot 6"}, say(crew.FromFar, 5))
}

// A section of the ground by its own distances: posts every 8 m, vines every metre.
func TestChainages(t *testing.T) {
	g := block(t, "oooo", "oooooooooo").Ground
	s, err := crew.ByPosts(crew.Numbers(g, 1), crew.Chainages(g, 1), []float64{0, 8, 16})
	require.NoError(t, err)
	section, slot, err := s.Place(10, crew.FromNear)
	require.NoError(t, err)
	require.Equal(t, [2]int{2, 2}, [2]int{section, slot})
}
