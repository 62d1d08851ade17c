package strict

import "strings"

// Nearest gives the known word that the writer probably meant: at most two
// letters added, dropped, changed or swapped, and no more than half of the
// word, so that "at" is not taken for "to". It is empty if there is none.
func Nearest(word string, known []string) string {
	best, found := 3, ""
	for _, k := range known {
		d := distance(strings.ToLower(word), k)
		if d < best && 2*d <= len(k) {
			best, found = d, k
		}
	}
	return found
}

// distance counts the letters that must be added, dropped, changed or swapped
// with their neighbour to turn one word into the other. Words that differ in
// length by more than two are further apart than anybody asks.
func distance(a, b string) int {
	if len(a) > len(b)+2 || len(b) > len(a)+2 {
		return 3
	}
	rows := [3][]int{make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		now, last, before := rows[i%3], rows[(i+2)%3], rows[(i+1)%3]
		now[0] = i
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			now[j] = min(last[j]+1, now[j-1]+1, last[j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
	}
	return rows[len(a)%3][len(b)]
}

// listed gives "a, b or c".
func listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}
