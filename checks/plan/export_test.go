package plan

// What external tests see beside the exported names.
type (
	RawStep  = rawStep
	SchemaOf = schemaOf
	Shape    = shape
	Tag      = tag
)

var (
	AmountType      = amountType
	FloorTable      = floorTable
	FloorsAt        = floorsAt
	InstrumentSorts = instrumentSorts
	KeyBlob         = keyBlob
	NodeType        = nodeType
	TimeType        = timeType
)
