package tuning

import (
	"context"
	"sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// endsAfter is a context that ends once it has been asked so many times.
type endsAfter struct {
	context.Context
	left atomic.Int64
}

func (c *endsAfter) Err() error {
	if c.left.Add(-1) < 0 {
		return context.Canceled
	}
	return nil
}

// Wherever the context ends, the answer is its error or the whole proposal, never a
// part of one, and it comes without asking much further.
func TestProposeEndsAnywhere(t *testing.T) {
	p := invented(1)
	whole, err := Propose(context.Background(), p, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	for asked, ended := int64(0), true; ended; asked = 2*asked + 1 {
		ctx := &endsAfter{Context: context.Background()}
		ctx.left.Store(asked)
		got, err := Propose(ctx, p, DefaultOptions())
		ended = err != nil
		switch {
		case ended && got != nil:
			t.Fatalf("ended after %d questions: a proposal beside %v", asked, err)
		case !ended && cmp.Diff(whole, got) != "":
			t.Fatalf("not ended within %d questions: another proposal\n%s", asked, cmp.Diff(whole, got))
		}
	}
}
