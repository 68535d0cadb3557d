//go:build !race

package mixing_test

const raceDetector = false
