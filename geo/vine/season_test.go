package vine

import (
	"testing"
	"time"
	_ "time/tzdata" // of our own, wherever the tests run

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

// A season is the harvest year that the winter's pruning prepares (common
// practice): northern winter 2026-27 prepares 2027, southern winter 2027
// prepares 2028. Leaf fall is about November in the north and May in the south.
func TestCalendar_Season(t *testing.T) {
	for _, c := range []struct {
		name  string
		south bool
		zone  string
		day   string
		want  int
	}{
		{"north, midwinter", false, "Europe/Paris", "2027-01-12T10:00:00Z", 2027},
		{"north, early winter", false, "Europe/Paris", "2026-12-05T10:00:00Z", 2027},
		{"north, harvest", false, "Europe/Paris", "2027-09-20T10:00:00Z", 2027},
		{"north, last evening of October", false, "Europe/Paris", "2026-10-31T22:59:59Z", 2026},
		{"north, first of November there, still October in UTC", false, "Europe/Paris", "2026-10-31T23:00:00Z", 2027},
		{"north, last day of the year", false, "", "2026-12-31T23:59:59Z", 2027},
		{"north, first day of the year", false, "", "2027-01-01T00:00:00Z", 2027},
		{"California, first of November in UTC, still October there", false, "America/Los_Angeles", "2026-11-01T05:00:00Z", 2026},
		{"south, midwinter", true, "Australia/Adelaide", "2027-07-10T02:00:00Z", 2028},
		{"south, harvest", true, "Australia/Adelaide", "2028-03-10T02:00:00Z", 2028},
		{"south, last day of April", true, "Australia/Adelaide", "2027-04-30T14:29:59Z", 2027},
		{"south, first of May there, still April in UTC", true, "Australia/Adelaide", "2027-04-30T14:30:00Z", 2028},
		{"New Zealand, New Year's Eve", true, "Pacific/Auckland", "2027-12-31T11:30:00Z", 2028},
		{"south, first day of the year", true, "", "2028-01-01T00:00:00Z", 2028},
	} {
		t.Run(c.name, func(t *testing.T) {
			var z *time.Location
			if c.zone != "" {
				z = zone(t, c.zone)
			}
			day, err := time.Parse(time.RFC3339, c.day)
			require.NoError(t, err)
			require.Equal(t, c.want, Hemisphere(c.south, z).Season(day))
		})
	}
}

// A season lasts a year, and one follows the other.
func TestCalendar_SeasonsFollow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Hemisphere(rapid.Bool().Draw(t, "south"), nil)
		day := time.Unix(rapid.Int64Range(0, 4_000_000_000).Draw(t, "time"), 0)
		s := c.Season(day)
		if got := c.Season(day.UTC().AddDate(1, 0, 0)); got != s+1 && !(day.UTC().Month() == time.February && day.UTC().Day() == 29) {
			t.Fatalf("a year after season %d comes %d", s, got)
		}
		if got := c.Season(day.Add(time.Second)); got != s && got != s+1 {
			t.Fatalf("a second after season %d comes %d", s, got)
		}
	})
}

// Planted in spring 2024: first leaf 2024, second 2025, third 2026; planted in
// the autumn before counts from the next spring. Growers use "second leaf" for
// the second growing season (Wolf, ed., Wine Grape Production Guide for Eastern
// North America, NRAES-145, 2008, from memory; common practice).
func TestLeaf(t *testing.T) {
	north, south := Hemisphere(false, nil), Hemisphere(true, nil)
	on := func(c Calendar, y int, m time.Month) int { return c.Season(time.Date(y, m, 15, 0, 0, 0, 0, time.UTC)) }
	for _, c := range []struct {
		name            string
		planted, season int
		want            int
	}{
		{"planted in spring, that summer", on(north, 2024, time.April), 2024, 1},
		{"planted in spring, second leaf", on(north, 2024, time.April), 2025, 2},
		{"planted in spring, third leaf", on(north, 2024, time.April), 2026, 3},
		{"planted in November counts from the next spring", on(north, 2023, time.November), 2024, 1},
		{"planted in the south in September 2024 grows towards harvest 2025", on(south, 2024, time.September), 2025, 1},
		{"south, second leaf", on(south, 2024, time.September), 2026, 2},
		{"before it was planted", 2024, 2023, 0},
		{"planting unknown", 0, 2026, 0},
		{"an old vine", 1901, 2027, 127},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, Leaf(c.planted, c.season)) })
	}
}
