//go:build race

package gpkg_test

// underRace: the race detector makes SQLite some thirty times slower.
const underRace = true
