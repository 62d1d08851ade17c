package push

// Look reads a JSON Pointer in a document, for the tests.
func Look(text string, doc any) (value any, found bool, err error) {
	p, err := parsePointer(text)
	if err != nil {
		return nil, false, err
	}
	value, found = p.in(doc)
	return value, found, nil
}
