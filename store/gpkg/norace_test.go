//go:build !race

package gpkg_test

const underRace = false
