package replant

import (
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

func byAddress(t *testing.T, in BlockInput, r Rules) map[string]Candidate {
	t.Helper()
	list, err := Candidates(in, r)
	require.NoError(t, err)
	out := map[string]Candidate{}
	for k, c := range list {
		if k > 0 {
			require.Less(t, list[k-1].Vine, c.Vine)
		}
		out[c.Address] = c
	}
	return out
}

func TestCandidates_GapsAndSick(t *testing.T) {
	s := plotStand(t, 3, 6, 2027, 2010)
	s.Condition[0], s.Condition[1] = vine.Missing, vine.Doubtful
	e := &Evidence{Places: 18, Sightings: []Sighting{{Vine: 2, Day: jan(3), By: "Ana", Condition: vine.Missing}, {Vine: 5, Day: jan(3), By: "Ana", Condition: vine.Dead, AboveGraft: true, Confirmed: true}},
		Detections: []Detection{{3, jan(5), 0.9, "flight", ""}}}
	got := byAddress(t, BlockInput{Stand: s, Findings: judge(t, e), Sick: []Sickness{
		{Vine: 8, Kind: KindLeafroll, Day: Date(2026, 10, 20)}, {Vine: 17, Kind: KindEsca, Day: Date(2025, 8, 1)}, {Vine: 17, Kind: KindEsca, Day: Date(2023, 8, 1)}, {Vine: 9, Kind: KindLeafroll, Day: Date(2025, 10, 1)},
	}}, DefaultRules())
	for _, c := range []struct {
		address string
		action  Action
		why     Why
		says    string
	}{
		{"H3/1/1", ActReplace, WhyMissing, "no plant stands there"},
		{"H3/1/2", ActLook, WhyDoubtful, "looked at again"},
		{"H3/1/3", ActReplace, WhyMissing, "no plant"}, // gone, so not to be tested beside the infected H3/2/3
		{"H3/1/4", ActLook, WhySuspected | WhyNeighbour, "H3/2/4 has leafroll"},
		{"H3/1/6", ActReplace, WhyAboveGraft, "may be grafted again"},
		{"H3/2/1", ActTest, WhyNeighbour, "H3/2/3 has leafroll"},
		{"H3/2/2", ActTest, WhyNeighbour, "H3/2/3 has leafroll"},
		{"H3/2/3", ActReplace, WhySick, "leafroll (2026-10-20)"},
		{"H3/2/4", ActReplace, WhySick, "leafroll (2025-10-01)"},
		{"H3/2/5", ActTest, WhyNeighbour, "H3/2/4 has leafroll"},
		{"H3/2/6", ActTest, WhyNeighbour, "H3/2/4"},
		{"H3/3/3", ActTest, WhyNeighbour, "H3/2/3"},
		{"H3/3/4", ActTest, WhyNeighbour, "H3/2/4"},
		{"H3/3/6", ActWatch, WhySick, "esca (2023-08-01), esca (2025-08-01)"},
	} {
		require.Equal(t, c.action.String(), got[c.address].Action.String(), "%s: %+v", c.address, got[c.address])
		require.Equal(t, c.why, got[c.address].Why, c.address)
		require.Contains(t, got[c.address].Text, c.says, c.address)
	}
	require.Len(t, got, 14)
}

func TestCandidates_WeakThreeWinters(t *testing.T) {
	winters := []*stand.Stand{plotStand(t, 1, 6, 2027, 2010), plotStand(t, 1, 6, 2026, 2010), plotStand(t, 1, 6, 2025, 2010)}
	for k, s := range winters {
		s.Condition[0] = vine.Weak // weak as seen, all three
		s.Vigour[1] = 1            // weak as measured, all three
		if k != 1 {
			s.Condition[2] = vine.Weak // in between nobody looked
		}
		s.Vigour[3] = uint8(1 + k)                           // weak this winter only
		s.Condition[4], s.Leaf[4] = vine.Weak, uint8(5-k)    // a young plant is small by nature
		s.Condition[5], s.Vigour[5] = vine.Missing, uint8(1) // gone
	}
	in := BlockInput{Stand: winters[0], Past: winters[1:]}
	got := byAddress(t, in, DefaultRules())
	require.Equal(t, WhyWeak, got["H3/1/1"].Why)
	require.Equal(t, "weak in 3 winters running", got["H3/1/2"].Text)
	require.Equal(t, WhyMissing, got["H3/1/6"].Why)
	require.Len(t, got, 3)

	r := DefaultRules()
	r.WeakWinters = 4
	require.Len(t, byAddress(t, in, r), 1, "four winters are not on record")
	r.WeakWinters = 0
	require.Len(t, byAddress(t, in, r), 1)
	r.WeakWinters = 2
	require.Len(t, byAddress(t, in, r), 4, "the young one was in leaf 4 and 5 by then")
}

func TestCandidates_RoadsAndShortRows(t *testing.T) {
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "R", RowSpacingM: 2, VineSpacingM: 1})
	b.Row(100, "1", 0)
	for n := range 6 {
		part := n / 3
		b.Vine(stand.Position{ID: vine.ID(n + 1), Number: n + 1, ChainageM: float64(n), Part: part, Y: float64(n + 5*part), Lon: 0.6, Lat: 44.8})
	}
	b.Row(101, "2", 0)
	b.Vine(stand.Position{ID: 50, Number: 1, X: 2, Y: 0, Lon: 0.6, Lat: 44.8})
	g, err := b.Ground()
	require.NoError(t, err)
	s := stand.NewStand(g, 2027, 1)
	got := byAddress(t, BlockInput{Stand: s, Sick: []Sickness{{2, KindLeafroll, jan(1)}, {5, KindLeafroll, jan(1)}}}, DefaultRules())
	require.Contains(t, got, "R/1/1")
	require.Equal(t, ActTest, got["R/1/4"].Action)
	require.Contains(t, got["R/1/4"].Text, "R/1/6", "the nearest infected one is told")
	require.Contains(t, got["R/2/1"].Text, "R/1/3")
	require.NotContains(t, byAddress(t, BlockInput{Stand: s, Sick: []Sickness{{2, KindLeafroll, jan(1)}}}, DefaultRules()), "R/1/4", "not over the road")
	one := byAddress(t, BlockInput{Stand: s, Sick: []Sickness{{5, KindLeafroll, jan(1)}}}, DefaultRules())
	require.NotContains(t, one, "R/2/1", "the short row ends far away")
}

func TestCandidates_Refuses(t *testing.T) {
	s := plotStand(t, 1, 2, 2027, 2010)
	_, err := Candidates(BlockInput{}, DefaultRules())
	require.ErrorIs(t, err, ErrInput)
	_, err = Candidates(BlockInput{Stand: s, Past: []*stand.Stand{plotStand(t, 1, 2, 2025, 2010)}}, DefaultRules())
	require.ErrorIs(t, err, ErrInput)
	_, err = Candidates(BlockInput{Stand: s, Sick: []Sickness{{Vine: 2, Kind: "x"}}}, DefaultRules())
	require.ErrorIs(t, err, ErrInput)
	_, err = Candidates(BlockInput{Stand: s, Findings: judge(t, &Evidence{Places: 3})}, DefaultRules())
	require.ErrorIs(t, err, ErrInput)
	r := DefaultRules()
	r.Along = 21
	_, err = Candidates(BlockInput{Stand: s}, r)
	require.ErrorIs(t, err, ErrSettings)
	r = DefaultRules()
	r.Sick[""] = SickRule{}
	require.ErrorIs(t, r.Check(), ErrSettings)
}

func TestBlockOutlook(t *testing.T) {
	for _, c := range []struct {
		name            string
		planted         int
		life            Life
		median, remains int
		says            []string
	}{
		{"young", 2020, DefaultLife(), 8, 23, []string{"about 23 seasons left"}},
		{"time to ask", 2012, DefaultLife(), 16, 15, []string{"pays a replant back"}},
		{"old", 2001, DefaultLife(), 27, 4, []string{"no longer filled", "hardly comes to pay"}},
		{"to be pulled", 2020, Life{PullSeason: 2030, Leaves: 30, AskFromLeaf: 15, LastLeaf: 25, LeastYears: 10}, 8, 3, []string{"before season 2030: 3 seasons left", "hardly comes to pay"}},
		{"age not known", 0, DefaultLife(), 0, 0, []string{"not known"}},
	} {
		s := plotStand(t, 1, 9, 2027, c.planted)
		s.Condition[0] = vine.Missing
		o, err := BlockOutlook(s, c.life)
		require.NoError(t, err)
		require.Equal(t, []int{c.median, c.remains, 8}, []int{o.MedianLeaf, o.Remaining, o.Living}, c.name)
		for _, text := range c.says {
			require.Contains(t, joined(o.Notes), text, c.name)
		}
	}
	_, err := BlockOutlook(plotStand(t, 1, 1, 2027, 2010), Life{})
	require.ErrorIs(t, err, ErrSettings)
}

func joined(notes []string) (out string) {
	for _, n := range notes {
		out += n + "\n"
	}
	return out
}

func TestCheckLimits_ToGo(t *testing.T) {
	l := DefaultLimits()
	l.PermittedHlHa = 50
	for _, c := range []struct {
		gaps, toGo int
		beyond     bool
		says       string
	}{
		{0, 200, false, "200 vines to go"}, {199, 1, false, "1 vine to go"}, {200, 0, false, "stays at 50.0 hl/ha"},
		{201, -1, true, "Beyond it by 1 vine"}, {300, -100, true, "50.0 × (1 − 0.300) = 35.0 hl/ha"},
	} {
		notes, err := CheckLimits(Counts{Day: jan(5), Positions: 1000, Gaps: c.gaps}, l)
		require.NoError(t, err)
		n := notes[len(notes)-1]
		require.Equal(t, "appellation", n.Key)
		require.Equal(t, c.toGo, n.ToGo, n.Text)
		require.Equal(t, c.beyond, n.Beyond, n.Text)
		require.Contains(t, n.Text, c.says)
		require.Contains(t, n.Text, "2027-01-05")
		require.NotEmpty(t, n.Source)
	}
	notes, err := CheckLimits(Counts{Day: jan(5), Positions: 100, Gaps: 9, LostYear: 4}, Limits{NormalYearly: 0.03, TooManyYearly: 0.05, TooMany: 0.08})
	require.NoError(t, err)
	require.Len(t, notes, 3, "limits of 0 are none")
	require.Equal(t, []bool{true, false, true}, []bool{notes[0].Beyond, notes[1].Beyond, notes[2].Beyond})
	for _, bad := range []Counts{{}, {Positions: 10, Gaps: 11}, {Positions: 10, Leafroll: -1}} {
		_, err := CheckLimits(bad, l)
		require.ErrorIs(t, err, ErrInput)
	}
	l.Leafroll = 1.5
	_, err = CheckLimits(Counts{Positions: 1}, l)
	require.ErrorIs(t, err, ErrSettings)
}
