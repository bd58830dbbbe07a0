package record

import "eha/strokewise/tuning/law"

// EncodeLoops returns settings alone as a settings document, such as those in use
// in a drive; DecodeLoops reads it.
func EncodeLoops(l *law.Loops) ([]byte, error) {
	return encode(loopsDocument{Format: LoopsFormat, Position: encodePosition(l.Position), Force: encodeForce(l.Force)})
}
