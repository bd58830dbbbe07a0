package machine

import (
	"fmt"
	"strings"
)

// knownKeys lists every key that a machine file may hold, channels' tables apart.
func knownKeys() []string {
	keys := sortedKeys(fields)
	keys = append(keys, sortedKeys(ranges)...)
	keys = append(keys, sortedKeys(capabilities)...)
	return append(append(keys, sortedKeys(words)...), "channels")
}

// knownTable reports whether a key is a table of others.
func knownTable(key string) bool {
	for _, k := range knownKeys() {
		if strings.HasPrefix(k, key+".") || k == "channels" && key == k {
			return true
		}
	}
	return false
}

// suggest returns advice that names the nearest of the known words, or some of
// them where none is near.
func suggest(word string, known []string) string {
	best, distance := "", len(word)/2+1
	for _, k := range known {
		d := editDistance(strings.ToLower(word), k)
		// A key under the wrong table is as good as found, and so is one cut short.
		if last := strings.LastIndexByte(word, '.'); last >= 0 && strings.HasSuffix(k, word[last:]) {
			d = min(d, 1)
		}
		if len(word) >= 3 && strings.HasPrefix(k, strings.ToLower(word)) {
			d = min(d, 1)
		}
		if d < distance {
			best, distance = k, d
		}
	}
	if best != "" {
		return fmt.Sprintf("; did you mean %q?", best)
	}
	if len(known) <= 14 {
		return "; known are " + strings.Join(known, ", ")
	}
	return "; the machine file's section of the documentation lists the keys"
}

// editDistance returns the least number of insertions, deletions and
// replacements that turn a into b; texts over 64 bytes count as far apart.
func editDistance(a, b string) int {
	const longest = 64
	if len(a) > longest || len(b) > longest {
		return longest
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			replace := diagonal
			if a[i-1] != b[j-1] {
				replace++
			}
			diagonal = row[j]
			row[j] = min(replace, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}
