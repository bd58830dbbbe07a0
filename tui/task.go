package tui

import (
	"context"
	"fmt"
	"sync"

	tea "github.com/charmbracelet/bubbletea"
)

// task is long work in progress: there is one at most, and it can be cancelled.
type task struct {
	id     int
	title  string
	cancel context.CancelFunc
	share  float64
	doing  string
	latest *mailbox
}

// mailbox holds the newest progress only, so that a fast worker never waits for
// the screen.
type mailbox struct {
	mu    sync.Mutex
	share float64
	doing string
	bell  chan struct{}
}

func (m *mailbox) post(doing string, share float64) {
	m.mu.Lock()
	m.share, m.doing = share, doing
	m.mu.Unlock()
	select {
	case m.bell <- struct{}{}:
	default:
	}
}

func (m *mailbox) read() (float64, string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.share, m.doing
}

// taskDone carries the outcome of a task; outcomes of cancelled tasks are dropped.
type taskDone struct {
	id      int
	outcome tea.Msg
}

// taskMoved says that a task's mailbox holds news.
type taskMoved struct{ id int }

// begin starts work as the one task, ending any before it. run must not touch
// the App; its message is handled by the App's update.
func (a *App) begin(title string, run func(ctx context.Context, progress Progress) tea.Msg) tea.Cmd {
	a.abandon()
	ctx, cancel := context.WithCancel(a.ctx)
	a.taskID++
	box := &mailbox{share: -1, bell: make(chan struct{}, 1)}
	a.task = &task{id: a.taskID, title: title, cancel: cancel, share: -1, latest: box}
	id := a.taskID
	work := func() (msg tea.Msg) {
		defer func() {
			if fault := recover(); fault != nil {
				msg = taskDone{id, failedMsg{title, fmt.Errorf("fault in the program: %v", fault)}}
			}
		}()
		defer cancel()
		return taskDone{id, run(ctx, box.post)}
	}
	return tea.Batch(work, listen(ctx, id, box))
}

// listen waits for the next news of a task.
func listen(ctx context.Context, id int, box *mailbox) tea.Cmd {
	return func() tea.Msg {
		select {
		case <-box.bell:
			return taskMoved{id}
		case <-ctx.Done():
			return nil
		}
	}
}

// abandon cancels the running task, if any; its outcome will be ignored.
func (a *App) abandon() {
	if a.task != nil {
		a.task.cancel()
		a.task = nil
	}
}

// chase runs one kind of quick computation at a time and once more when the
// question changed meanwhile, so that the newest answer always comes and a held
// key does not pile up work.
type chase struct{ busy, again bool }

// want reports whether to start now; otherwise the run in progress will be followed by another.
func (c *chase) want() bool {
	if c.busy {
		c.again = true
		return false
	}
	c.busy = true
	return true
}

// done reports whether the question changed while it was answered.
func (c *chase) done() bool {
	again := c.again
	c.busy, c.again = false, false
	return again
}

// latest runs one kind of computation of which only the newest counts: beginning
// one ends the one before.
type latest struct {
	id     int
	cancel context.CancelFunc // nil while none runs
}

// begin ends what runs and returns the number and the context of the next.
func (l *latest) begin(parent context.Context) (id int, ctx context.Context) {
	l.stop()
	l.id++
	ctx, l.cancel = context.WithCancel(parent)
	return l.id, ctx
}

// stop ends what runs, if anything.
func (l *latest) stop() {
	if l.cancel != nil {
		l.cancel()
		l.cancel = nil
	}
}

func (l *latest) busy() bool { return l.cancel != nil }

// done takes the answer of that number; it reports whether it is the one waited for.
func (l *latest) done(id int) bool {
	if !l.busy() || id != l.id {
		return false
	}
	l.stop()
	return true
}

// guarded runs f and turns a panic into an error.
func guarded[T any](f func() (T, error)) (value T, err error) {
	defer func() {
		if fault := recover(); fault != nil {
			err = fmt.Errorf("fault in the program: %v", fault)
		}
	}()
	return f()
}
