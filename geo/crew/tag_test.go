package crew_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/crew"
	"courson/geo/vine"
)

func TestRowTag(t *testing.T) {
	require.Equal(t, "/field#row=12", crew.RowTag(12))
	for text, want := range map[string]vine.ID{"/field#row=12": 12, "https://vines.example/field#row=9007199254740991": 1<<53 - 1} {
		got, err := crew.ParseRowTag(text)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	for _, text := range []string{"", "12", "/field#row=", "/field#row=0", "/field#row=-3", "/field#row=+3", "/field#row=03", "/field#row=3;drop", "/field#row=9007199254740992", "/field#row=99999999999999999999"} {
		_, err := crew.ParseRowTag(text)
		require.ErrorIs(t, err, crew.ErrTag, text)
	}
	rapid.Check(t, func(t *rapid.T) {
		id := rapid.Int64Range(1, 1<<53-1).Draw(t, "row")
		got, err := crew.ParseRowTag(crew.RowTag(id))
		require.NoError(t, err)
		require.Equal(t, id, got)
	})
}
