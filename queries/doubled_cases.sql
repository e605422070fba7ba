-- Rows of cases whose case number a newer record carries as well.
-- Row: one case that counts no more, by where its row stands.
-- Key: batch, line, digest.
-- Grain: of the records of one case number, each in its newest version, all but the newest (as in superseded_rows). Only numbers
--   that some record carries under another name than its own are looked at: where every record is named by its case, no two
--   records can have the same.
-- Order: none, written to a file whose readers join it.
WITH superseded AS (
    SELECT batch, line, digest, 1 AS is_superseded
    FROM superseded_rows
    WHERE target = 'cases'
),
renamed AS (
    SELECT DISTINCT source, case_id
    FROM cases
    WHERE record <> case_id
),
rivals AS (
    SELECT c.source, c.case_id, c.export_date, c.batch, c.line, c.digest
    FROM cases AS c
    JOIN renamed AS r ON c.source = r.source AND c.case_id = r.case_id
    LEFT JOIN superseded AS s ON c.batch = s.batch AND c.line = s.line AND c.digest = s.digest
    WHERE s.is_superseded IS NULL
),
newest AS (
    SELECT DISTINCT ON (source, case_id) source, case_id, export_date, batch, line, digest
    FROM rivals
    ORDER BY source, case_id, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
),
standing AS (
    SELECT batch, line, digest, 1 AS is_newest
    FROM newest
)
SELECT DISTINCT r.batch, r.line, r.digest
FROM rivals AS r
LEFT JOIN standing AS s ON r.batch = s.batch AND r.line = s.line AND r.digest = s.digest
WHERE s.is_newest IS NULL
