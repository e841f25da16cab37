package kb

import _ "embed" // for the schema

//go:embed schema/case-v1.json
var caseSchema []byte

// Schema gives the JSON Schema (2020-12) of the case record, version 1.
func Schema() []byte { return append([]byte(nil), caseSchema...) }
