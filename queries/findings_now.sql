-- Findings in their newest version.
-- Row: one finding as last exported.
-- Key: source, record.
-- Grain: versions fold as in visits_now. place: line of the export, the order in which causes of a case were found.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH newest AS (
    SELECT DISTINCT ON (source, record) *
    FROM findings
    ORDER BY source, record, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
)
SELECT
    source,
    record,
    case_id,
    line AS place,
    cause,
    failure_mode,
    cylinder,
    confirmation,
    repair
FROM newest
