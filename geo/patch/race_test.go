//go:build race

package patch

const raceDetector = true
