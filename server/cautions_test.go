package server

import (
	"io/fs"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/crew"
	"courson/web"
)

var cautionKey = regexp.MustCompile(`"caution\.(\w+)":`)

// Every hazard of every operation has its words in each language of the phones and
// sheets, and no words are left of one that no operation has.
func TestCautions_InEveryLanguage(t *testing.T) {
	f := newFixture(t)
	var got struct {
		Operations []struct {
			Name     string
			Cautions []crew.Caution
		}
	}
	f.get("/api/operations").into(t, &got)
	require.Len(t, got.Operations, len(crew.Operations()))
	hazards := map[string]bool{"title": true}
	for _, o := range got.Operations {
		require.Equal(t, crew.Cautions(o.Name), o.Cautions, o.Name)
		for _, c := range o.Cautions {
			hazards[c.Hazard] = true
		}
	}
	for _, language := range []string{"en", "es", "fr", "pt"} {
		text, err := fs.ReadFile(web.Files(), "text/field/"+language+".js")
		require.NoError(t, err)
		said := map[string]bool{}
		for _, m := range cautionKey.FindAllSubmatch(text, -1) {
			said[string(m[1])] = true
		}
		assert.Equal(t, hazards, said, language)
	}
}
