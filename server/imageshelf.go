package server

import (
	"context"
	"fmt"
	"sync"

	"courson/server/work"
	"courson/store"
)

// imageShelf keeps the parts of images that were drawn last; what is kept of an
// image never changes.
type imageShelf struct {
	mu   sync.Mutex
	list []imagePart // the last used first
}

type imagePart struct {
	key    string
	stored []uint16
}

// mostImageParts is how many are kept, half a megabyte each.
const mostImageParts = 48

func (s *imageShelf) find(key string) []uint16 {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, p := range s.list {
		if p.key == key {
			copy(s.list[1:i+1], s.list[:i])
			s.list[0] = p
			return p.stored
		}
	}
	return nil
}

func (s *imageShelf) put(p imagePart) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.list = append([]imagePart{p}, s.list[:min(len(s.list), mostImageParts-1)]...)
}

// part gives the pixels of a part, from the shelf or the store.
func (s *imageShelf) part(ctx context.Context, st store.Plans, k *work.KeptImage, level, column, line int) ([]uint16, error) {
	key := fmt.Sprintf("%s %d %d %d", k.ID, level, column, line)
	if got := s.find(key); got != nil {
		return got, nil
	}
	got, err := k.Part(ctx, st, level, column, line)
	if err != nil {
		return nil, err
	}
	s.put(imagePart{key, got})
	return got, nil
}
