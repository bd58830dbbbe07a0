package ident

// together runs the parts at the same time and waits. They share no results.
func together(parts []func()) {
	done := make(chan any, len(parts))
	for _, part := range parts[1:] {
		go func() {
			defer func() { done <- recover() }()
			part()
		}()
	}
	parts[0]()
	for range parts[1:] {
		if fault := <-done; fault != nil {
			panic(fault)
		}
	}
}
