package replant

import "fmt"

// word gives the word of a code; codes without one are told by number.
func word(words []string, code int, what string) string {
	if code < len(words) {
		return words[code]
	}
	return fmt.Sprintf("%s %d", what, code)
}

// parse reads a word that word writes.
func parse[T ~uint8](words []string, text, what string, why error) (T, error) {
	for k, w := range words {
		if w == text {
			return T(k), nil
		}
	}
	return 0, fmt.Errorf("%w: %s %q; there are %q", why, what, text, words)
}

// MarshalText writes the word.
func (s State) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the word.
func (s *State) UnmarshalText(text []byte) (err error) {
	*s, err = parse[State](stateWords[:], string(text), "state", ErrInput)
	return err
}

// MarshalText writes the words.
func (s Source) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the words.
func (s *Source) UnmarshalText(text []byte) (err error) {
	*s, err = parse[Source](sourceWords[:], string(text), "source", ErrInput)
	return err
}

// MarshalText writes the word.
func (a Action) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// UnmarshalText reads the word.
func (a *Action) UnmarshalText(text []byte) (err error) {
	*a, err = parse[Action](actionWords[:], string(text), "action", ErrInput)
	return err
}

// MarshalText writes the word.
func (w Way) MarshalText() ([]byte, error) { return []byte(w.String()), nil }

// UnmarshalText reads the word.
func (w *Way) UnmarshalText(text []byte) (err error) {
	*w, err = parse[Way](wayWords[:], string(text), "way", ErrInput)
	return err
}

// MarshalText writes the word.
func (s Stage) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the word.
func (s *Stage) UnmarshalText(text []byte) (err error) {
	*s, err = ParseStage(string(text))
	return err
}

// ParseStage reads the word of a stage. The error wraps ErrStep.
func ParseStage(text string) (Stage, error) {
	return parse[Stage](stageWords[:], text, "stage", ErrStep)
}
